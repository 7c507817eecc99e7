"""What an operation takes and answers, said beside the method that does it.

``@operation(...)`` keeps the description on the method; ``OperationSchema`` reads it when the
OpenAPI document is made. Bodies are named components of ``shapes.COMPONENTS``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import ResolvedComponent
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse

from registry.api.catalogue import PROBLEMS
from registry.api.problems import MEDIA_TYPE
from registry.api.shapes import COMPONENTS, REFERENCE, Schema

MethodT = TypeVar("MethodT", bound=Callable[..., Any])
_ATTRIBUTE: Final = "registry_operation"
JSON: Final = "application/json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A body and what it means; ``shape`` None is an answer without a body."""

    about: str
    shape: str | None = None
    media_type: str = JSON


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    id: str
    summary: str
    tag: str
    answers: Mapping[int, Sequence[Answer]]
    body: str | Schema | None
    body_media_type: str
    problems: tuple[str, ...]
    parameters: tuple[OpenApiParameter, ...]
    is_open: bool


def operation(
    id: str,  # noqa: A002 - OpenAPI calls it that
    summary: str,
    *,
    tag: str,
    answers: Mapping[int, Answer | Sequence[Answer]],
    body: str | Schema | None = None,
    body_media_type: str = JSON,
    problems: Sequence[str] = (),
    parameters: Sequence[OpenApiParameter] = (),
    is_open: bool = False,
) -> Callable[[MethodT], MethodT]:
    """Describe a method; its docstring becomes the description.

    ``problems`` are codes of ``catalogue.PROBLEMS``. What any closed operation may answer
    (nobody asks, a role that may not) is added by itself.
    """
    described = Operation(
        id=id,
        summary=summary,
        tag=tag,
        answers={
            status: [answer] if isinstance(answer, Answer) else answer
            for status, answer in answers.items()
        },
        body=body,
        body_media_type=body_media_type,
        problems=tuple(problems) if is_open else ("not_signed_in", "not_allowed", *problems),
        parameters=tuple(parameters),
        is_open=is_open,
    )

    def keep(method: MethodT) -> MethodT:
        setattr(method, _ATTRIBUTE, described)
        return method

    return keep


def operation_of(view: object, method: str) -> Operation:
    """:raises LookupError: for a method that nobody described."""
    found = getattr(getattr(view, method.lower(), None), _ATTRIBUTE, None)
    if not isinstance(found, Operation):
        raise LookupError(f"{type(view).__name__}.{method.lower()} has no @operation")
    return found


class OperationSchema(AutoSchema):
    """Reads ``@operation`` and nothing else, so that nothing is guessed."""

    @property
    def _described(self) -> Operation:
        return operation_of(self.view, self.method)

    def get_operation_id(self) -> str:
        return self._described.id

    def get_summary(self) -> str:
        return self._described.summary

    def get_tags(self) -> list[str]:
        return [self._described.tag]

    def get_override_parameters(self) -> Any:
        return list(self._described.parameters)

    def get_auth(self) -> list[dict[str, Any]]:
        return [] if self._described.is_open else super().get_auth()

    def get_request_serializer(self) -> Any:
        body = self._described.body
        if body is None:
            return None
        return {self._described.body_media_type: reference(body) if isinstance(body, str) else body}

    def get_response_serializers(self) -> Any:
        bodies: dict[Any, OpenApiResponse] = {}
        for status, answers in self._described.answers.items():
            for answer in answers:
                schema = reference(answer.shape) if answer.shape else None
                key = (str(status), answer.media_type) if schema else str(status)
                bodies[key] = OpenApiResponse(schema, description=answer.about)
        for status, codes in _by_status(self._described.problems).items():
            about = " ".join(f"`{code}`: {PROBLEMS[code][1]}" for code in codes)
            bodies[str(status), MEDIA_TYPE] = OpenApiResponse(
                reference("Problem"), description=about
            )
        return bodies

    def get_operation(self, *args: Any, **kwargs: Any) -> dict[str, Any] | None:
        found: dict[str, Any] | None = super().get_operation(*args, **kwargs)
        for name in _named_in(found):
            self._register(name)
        return found

    def _register(self, name: str) -> None:
        component = ResolvedComponent(  # type: ignore[no-untyped-call]
            name=name, type=ResolvedComponent.SCHEMA, schema=deepcopy(COMPONENTS[name]), object=name
        )
        if component not in self.registry:
            self.registry.register(component)
            for inner in _named_in(COMPONENTS[name]):
                self._register(inner)


def reference(name: str) -> Schema:
    """A pointer to a component; a misspelt name fails here and not in a reader's hands."""
    if name not in COMPONENTS:
        raise LookupError(name)
    return {"$ref": REFERENCE + name}


def _by_status(codes: Sequence[str]) -> dict[int, list[str]]:
    grouped: dict[int, list[str]] = {}
    for code in dict.fromkeys(codes):
        grouped.setdefault(PROBLEMS[code][0], []).append(code)
    return dict(sorted(grouped.items()))


def _named_in(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        name = value.get("$ref")
        if isinstance(name, str):
            yield name.removeprefix(REFERENCE)
        for inner in value.values():
            yield from _named_in(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _named_in(inner)
