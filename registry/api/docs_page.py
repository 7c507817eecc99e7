"""The OpenAPI document put into rows that a template can print."""

from __future__ import annotations

from collections import defaultdict
from typing import Any, Final

from registry.access.permissions import PERMISSIONS
from registry.api.catalogue import PROBLEMS
from registry.api.field_schemas import REFERENCE

Json = dict[str, Any]
_METHODS: Final = ("get", "post", "put", "patch", "delete")


def docs_context(document: Json) -> Json:
    """Operations by tag, components, and the catalogue of problems."""
    groups: defaultdict[str, list[Json]] = defaultdict(list)
    for address, methods in document["paths"].items():
        for method in _METHODS:
            if method in methods:
                one = methods[method]
                groups[one["tags"][0]].append(_operation(address, method, one))
    schemas = document["components"]["schemas"]
    return {
        "title": document["info"]["title"],
        "about": document["info"]["description"],
        "groups": sorted(groups.items()),
        "components": [_component(name, schema) for name, schema in sorted(schemas.items())],
        "problems": [
            {"code": code, "status": status, "detail": detail}
            for code, (status, detail) in PROBLEMS.items()
        ],
        "roles": [(action, sorted(roles)) for action, roles in PERMISSIONS.items()],
    }


def _operation(address: str, method: str, one: Json) -> Json:
    body = one.get("requestBody", {}).get("content", {})
    return {
        "id": one["operationId"],
        "method": method.upper(),
        "address": address,
        "summary": one["summary"],
        "about": one.get("description", ""),
        "parameters": [
            parameter | {"kind": _kind(parameter["schema"])}
            for parameter in one.get("parameters", [])
        ],
        "bodies": [
            {"media_type": media_type, "kind": _kind(content["schema"])}
            for media_type, content in body.items()
        ],
        "answers": [
            {
                "status": status,
                "about": answer["description"],
                "kinds": [_kind(one["schema"]) for one in answer.get("content", {}).values()],
            }
            for status, answer in one["responses"].items()
        ],
    }


def _component(name: str, schema: Json) -> Json:
    required = schema.get("required", ())
    return {
        "name": name,
        "about": schema.get("description", ""),
        "words": schema.get("enum", ()),
        "fields": [
            {
                "name": field,
                "kind": _kind(inner),
                "about": inner.get("description", ""),
                "needed": field in required,
            }
            for field, inner in schema.get("properties", {}).items()
        ],
    }


def _kind(schema: Json) -> Json:
    """How a schema is called, and the component it leads to if there is one."""
    if "$ref" in schema:
        name = schema["$ref"].removeprefix(REFERENCE)
        return {"text": name, "component": name}
    for several in ("anyOf", "oneOf"):
        if several in schema:
            parts = [_kind(part) for part in schema[several]]
            text = " or ".join(part["text"] for part in parts)
            return {"text": text, "component": parts[0]["component"]}
    if schema.get("type") == "array":
        item = _kind(schema["items"])
        return {"text": f"list of {item['text']}", "component": item["component"]}
    return {"text": _plain(schema), "component": None}


def _plain(schema: Json) -> str:
    kind = schema.get("type", "any")
    text = " or ".join(kind) if isinstance(kind, list) else str(kind)
    if "format" in schema:
        text += f" ({schema['format']})"
    if "minimum" in schema and "maximum" in schema:
        text += f" {schema['minimum']:g} to {schema['maximum']:g}"
    return text
