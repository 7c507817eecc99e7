"""A stored visit as the texts of its form, and what a form cannot hold carried over."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, tzinfo
from typing import Any, Final

from registry.intake.fields import GROUPS
from registry.pages.inputs import Texts
from registry.pages.irrigation_rows import name_of
from registry.pages.moments import moment_of

Json = Mapping[str, Any]
_NOT_TYPED: Final = frozenset({"beats", "irrigations", *GROUPS})


def prefilled(visit: Json, zone: tzinfo) -> dict[str, list[str]]:
    """What would have to be typed to send this visit (``visit`` as clinics send it)."""
    texts = _texts(visit, "")
    for group in GROUPS:
        texts |= _texts(visit.get(group) or {}, f"{group}.")
    for place, one in enumerate(visit["irrigations"]):
        at = f"irrigations.{place}."
        texts |= _texts(one, at)
        texts[f"{at}origin"] = [name_of(one)]
        texts |= _clock(one, at, visit["visit_date"], zone)
    return texts


def carry_beats(data: dict[str, Any], places: list[int], texts: Texts, stored: Json) -> None:
    """Put the beats of the stored irrigations back where their rows now stand.

    A form has no room for hundreds of beats; without this an amendment of one word would
    lose them.
    """
    beats = {name_of(one): one["beats"] for one in stored["irrigations"] if one.get("beats")}
    for one, place in zip(data["irrigations"], places, strict=True):
        origin = texts.get(f"irrigations.{place}.origin", ())
        if origin and origin[0] in beats:
            one["beats"] = beats[origin[0]]


def _texts(values: Json, prefix: str) -> dict[str, list[str]]:
    return {
        f"{prefix}{name}": _typed(value)
        for name, value in values.items()
        if name not in _NOT_TYPED and value is not None
    }


def _typed(value: object) -> list[str]:
    if isinstance(value, list | tuple):
        return [str(one) for one in value]
    if isinstance(value, bool):
        return [str(value).lower()]
    # All digits of a number, but no ".0" that nobody would type.
    return [str(value).removesuffix(".0") if isinstance(value, float) else str(value)]


def _clock(one: Json, at: str, visit_date: date | str, zone: tzinfo) -> dict[str, list[str]]:
    started = moment_of(one.get("started_at"), zone)
    if started is None:
        return {}
    clock = started.time().isoformat("milliseconds" if started.microsecond else "seconds")
    texts = {f"{at}started_at": [clock]}
    if str(started.date()) != str(visit_date):
        # An irrigation after midnight must not slip to the day before when it is saved.
        texts[f"{at}started_on"] = [str(started.date())]
    return texts
