"""Parameters of addresses: described for the document, read strictly."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from datetime import date
from typing import Any, Final

from drf_spectacular.utils import OpenApiParameter
from rest_framework.request import Request

from registry.api.paging import DEFAULT_SIZE, LARGEST_SIZE, PARAMETERS
from registry.api.problems import Problem
from registry.intake.checks.values import NOT_A_CODE, Wrong, checker_for
from registry.intake.faults import Fault
from registry.intake.fields import Field

_KEY: Final = re.compile(r"[a-z0-9_-]{1,80}")
_PAGE: Final = (
    OpenApiParameter("cursor", str, description="Where to go on, as next or previous gave it."),
    OpenApiParameter(
        "page_size", int, description=f"1 to {LARGEST_SIZE}; {DEFAULT_SIZE} when not said."
    ),
)


def paged(*more: OpenApiParameter) -> list[OpenApiParameter]:
    """The parameters of every list, and those of one list."""
    return [*more, *_PAGE]


def header_answered(name: str, about: str, *statuses: int) -> OpenApiParameter:
    """A header of the answer."""
    return OpenApiParameter(
        name,
        str,
        OpenApiParameter.HEADER,
        description=about,
        response=list(statuses),
    )


def header_needed(name: str, about: str) -> OpenApiParameter:
    return OpenApiParameter(
        name,
        str,
        OpenApiParameter.HEADER,
        description=about,
        required=True,
    )


def described(fields: Iterable[tuple[str, Field]]) -> list[OpenApiParameter]:
    """A filter for each field, under the name it has in an address."""
    kinds: dict[str, Any] = {"date": date, "yes_no": bool}
    return [
        OpenApiParameter(
            name,
            kinds.get(field.kind, str),
            description=field.about,
            enum=list(field.words) if field.words else None,
        )
        for name, field in fields
    ]


def read_parameters(
    request: Request, fields: Iterable[tuple[str, Field]] = (), *, keys: Iterable[str] = ()
) -> dict[str, Any]:
    """The values of the filters that were sent, by the names of their fields.

    ``keys`` are parameters that hold one of our own words or ids, whichever there are.

    :raises Problem: for a parameter not known (a misspelt filter would answer everything), one
        that is there twice, or a value that is none of its field.
    """
    known = {name: (field.name, _checker(field)) for name, field in fields}
    known |= {name: (name, _key) for name in keys}
    values: dict[str, Any] = {}
    faults: list[Fault] = []
    for name, sent in request.query_params.lists():
        if name in PARAMETERS:
            continue
        if name not in known:
            faults.append(Fault("", "unknown_parameter"))
        elif len(sent) != 1:
            faults.append(Fault(f"/{name}", "parameter_repeated"))
        else:
            kept_as, check = known[name]
            checked = check(sent[0])
            if isinstance(checked, Wrong):
                faults.append(Fault(f"/{name}", checked.code))
            else:
                values[kept_as] = checked
    if faults:
        raise Problem("parameter_not_valid", faults=faults)
    return values


def _checker(field: Field) -> Callable[[str], object]:
    check = checker_for(field)
    if field.kind != "yes_no":
        return check
    # An address holds text only.
    return lambda text: check({"true": True, "false": False}.get(text, text))


def _key(text: str) -> str | Wrong:
    """A word or id of ours: never a name, a space, or a byte that the database cannot read."""
    return text if _KEY.fullmatch(text) else NOT_A_CODE
