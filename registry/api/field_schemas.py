"""JSON Schema of one field, made from the field that the checks read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from registry.caloric import vocabulary
from registry.intake.fields import Field
from registry.intake.guard import CODE_PATTERN
from registry.models.upload import POLICIES, STATES
from registry.roster.fields import CHECK_STIMULI

# What random codes are made for.
CODE_KINDS: Final = ("subject", "visit")
Schema = dict[str, Any]
REFERENCE: Final = "#/components/schemas/"


def _component_name(constant: str) -> str:
    return "".join(part.capitalize() for part in constant.split("_"))


# By identity: two lists that happen to hold the same words are still two.
_WORD_LISTS: Final[dict[int, tuple[str, tuple[str, ...]]]] = {
    id(words): (_component_name(constant), words)
    for constant, words in vars(vocabulary).items()
    if constant.isupper() and isinstance(words, tuple)
} | {
    id(CHECK_STIMULI): ("CheckStimuli", CHECK_STIMULI),
    id(POLICIES): ("UploadPolicies", POLICIES),
    id(STATES): ("UploadStates", STATES),
    id(CODE_KINDS): ("CodeKinds", CODE_KINDS),
}


def word_components() -> dict[str, Schema]:
    """Each closed list as a component of its own, so that it is written once."""
    return {name: {"type": "string", "enum": list(words)} for name, words in _WORD_LISTS.values()}


def word_of(words: tuple[str, ...]) -> Schema:
    """A word of a closed list of the vocabulary."""
    return {"$ref": REFERENCE + _WORD_LISTS[id(words)][0]}


def schema_of(field: Field) -> Schema:
    """What may be sent under a field: its kind, its range, and what it says."""
    unit = f" Unit (UCUM): {field.unit}." if field.unit else ""
    return _kind(field) | {"description": field.about + unit}


def _kind(field: Field) -> Schema:
    if field.kind == "word":
        return word_of(field.words)
    if field.kind == "words":
        return {"type": "array", "items": word_of(field.words), "uniqueItems": True}
    if field.kind in ("number", "whole"):
        limits = {"minimum": field.low, "maximum": field.high}
        number = {"type": "number" if field.kind == "number" else "integer"}
        return number | {name: limit for name, limit in limits.items() if limit is not None}
    return {
        "code": {"type": "string", "pattern": CODE_PATTERN},
        "yes_no": {"type": "boolean"},
        "date": {"type": "string", "format": "date"},
        "time": {"type": "string", "format": "date-time"},
    }[field.kind]


def sent(
    fields: Iterable[Field],
    about: str,
    *,
    more: Mapping[str, Schema] | None = None,
    needed: Iterable[str] | None = None,
) -> Schema:
    """An object to send: these fields and no other; null says "not recorded"."""
    fields = tuple(fields)
    required = [field.name for field in fields if field.needed] if needed is None else [*needed]
    properties = {
        field.name: schema_of(field) if field.name in required else nullable(schema_of(field))
        for field in fields
    }
    return object_of(properties | dict(more or {}), about, required=required, closed=True)


def answered(
    fields: Iterable[Field], about: str, *, more: Mapping[str, Schema] | None = None
) -> Schema:
    """An object as it is answered: what was not recorded is null."""
    properties = {field.name: nullable(schema_of(field)) for field in fields}
    return object_of(dict(more or {}) | properties, about, required=list(more or {}))


def object_of(
    properties: Mapping[str, Schema],
    about: str,
    *,
    required: Iterable[str] = (),
    closed: bool = False,
) -> Schema:
    schema: Schema = {"type": "object", "description": about, "properties": dict(properties)}
    if required := list(required):
        schema["required"] = required
    return schema | ({"additionalProperties": False} if closed else {})


def nullable(schema: Schema) -> Schema:
    """The schema, or null; the description stays where readers look for it."""
    inner = {name: value for name, value in schema.items() if name != "description"}
    about = {"description": schema["description"]} if "description" in schema else {}
    return {"anyOf": [inner, {"type": "null"}]} | about


def list_of(item: Schema | str, about: str = "") -> Schema:
    items = {"$ref": REFERENCE + item} if isinstance(item, str) else item
    return {"type": "array", "items": items} | ({"description": about} if about else {})


def text(about: str, **more: Any) -> Schema:
    return {"type": "string", "description": about} | more


def number(about: str) -> Schema:
    return {"type": "number", "description": about}


def whole(about: str, **more: Any) -> Schema:
    return {"type": "integer", "description": about} | more


def yes_no(about: str) -> Schema:
    return {"type": "boolean", "description": about}


def moment(about: str) -> Schema:
    return text(about, format="date-time")


def identity(about: str) -> Schema:
    return text(about, format="uuid")
