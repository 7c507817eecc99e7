"""What each problem of a request means, in fixed sentences; the status it goes out with.

The sentences of faults inside a body come from the catalogues of intake and roster.
"""

from __future__ import annotations

from typing import Final

from registry.intake.checks import catalogue as intake
from registry.roster import catalogue as roster

PROBLEMS: Final[dict[str, tuple[int, str]]] = {
    "not_json": (400, "The body is not one JSON value. Send one."),
    "not_utf8": (400, "The body is not UTF-8. Send it as UTF-8."),
    "not_finite": (400, "The body holds NaN or an infinity, which JSON does not know."),
    "number_too_large": (400, "The body holds a number too large to be kept."),
    "duplicate_key": (400, "An object of the body names a field twice. Name it once."),
    "too_deep": (400, "The body is nested too deeply."),
    "body_missing": (400, "A body is needed. Send one, with its Content-Length."),
    "form_not_readable": (400, "The multipart form is broken. Send it anew."),
    "request_not_readable": (400, "The request is not one this service can read."),
    "cursor_not_valid": (400, "The cursor is none of this list. Start from its first page."),
    "parameter_not_valid": (400, "A parameter of the address is not valid; errors says which."),
    "not_signed_in": (401, "Say who you are, with a bearer token."),
    "token_refused": (401, "The token is unknown, expired or revoked."),
    "not_allowed": (403, "Your role may not do this."),
    "csrf_refused": (403, "The request does not carry the token of the page it came from."),
    "no_agreement_in_force": (
        403,
        "The clinic's network has no agreement in force, so nothing can be accepted.",
    ),
    "not_found": (404, "There is no such thing here."),
    "method_not_allowed": (405, "This address does not know that method; Allow says which."),
    "not_acceptable": (406, "This address cannot answer in that media type."),
    "visit_changed": (409, "A visit with this reference is stored with other content."),
    "visit_withdrawn": (409, "The visit of this reference was withdrawn."),
    "visit_erased": (409, "The visit of this reference was erased for good."),
    "subject_erased": (409, "The subject of this reference was erased for good."),
    "code_in_use": (409, "The code is in use at this clinic."),
    "check_differs": (409, "Another reading is recorded for this irrigator and moment."),
    "conflict": (409, "What is stored stands against it."),
    "version_mismatch": (412, "The object was changed since it was read. Read it again."),
    "body_too_large": (413, "The body is larger than allowed. Send it in parts."),
    "unsupported_media_type": (415, "This address does not read bodies of that media type."),
    "refused": (422, "What was sent cannot be kept; errors says all that is wrong with it."),
    "file_refused": (422, "The file cannot be read; nothing of it was kept."),
    "version_needed": (
        428,
        'Say in If-Match which version the change is made to, as ETag gave it: "3".',
    ),
    "too_many_requests": (429, "Too many requests. Wait as long as Retry-After says."),
    "failed": (500, "Something failed here; nothing was kept. Try again, or tell the operator."),
}

# What any operation that takes a JSON body may answer.
BODY_PROBLEMS: Final = (
    "not_json",
    "not_utf8",
    "not_finite",
    "number_too_large",
    "duplicate_key",
    "too_deep",
    "body_missing",
    "body_too_large",
    "unsupported_media_type",
)

PARAMETERS: Final[dict[str, str]] = {
    "unknown_parameter": "The address has a parameter that this list does not know.",
    "parameter_repeated": "This parameter is there twice. Send it once.",
}

FIELDS: Final[dict[str, str]] = {
    "too_many": "More was sent or asked for than fits one request. Divide it.",
    "file_needed": "A file is needed, in the part of the form named file.",
}

# A code of the roster may say the same thing of another object: its own sentence wins there.
DETAIL: Final[dict[str, str]] = {**roster.DETAIL, **intake.DETAIL, **PARAMETERS, **FIELDS}
ROSTER_DETAIL: Final[dict[str, str]] = {**DETAIL, **roster.DETAIL}


def detail_of(code: str) -> str:
    """The fixed sentence of a fault's or a problem's code."""
    return DETAIL[code] if code in DETAIL else PROBLEMS[code][1]
