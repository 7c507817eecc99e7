"""The clinic's codes, to choose from on a form."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

from registry.models import Clinic, Irrigator, Recorder, Tester, Thermometer
from registry.pages.inputs import Choices
from registry.pages.visit_form import RosterChoices
from registry.roster.devices import devices_of
from registry.roster.testers import testers_of

DeviceT = TypeVar("DeviceT", bound=Irrigator | Recorder | Thermometer)


def roster_choices(clinic: Clinic) -> RosterChoices:
    """All codes, those of former testers and devices marked: an old visit may name them."""
    return RosterChoices(
        testers=tester_choices(testers_of(clinic=clinic)),
        irrigators=irrigator_choices(devices_of(Irrigator, clinic=clinic)),
        recorders=device_choices(devices_of(Recorder, clinic=clinic)),
    )


def thermometer_choices(clinic: Clinic) -> Choices:
    return device_choices(devices_of(Thermometer, clinic=clinic))


def tester_choices(testers: Iterable[Tester]) -> Choices:
    return [
        (one.code, f"{one.code}, no longer active" if one.active_to else one.code)
        for one in testers
    ]


def device_choices(devices: Iterable[Recorder | Thermometer]) -> Choices:
    # A label on several devices, one after the other, is one choice.
    by_code = {one.code: one.retired_at for one in _retired_first(devices)}
    return [(code, f"{code}, retired" if retired else code) for code, retired in by_code.items()]


def irrigator_choices(irrigators: Iterable[Irrigator]) -> Choices:
    by_code = {one.code: one for one in _retired_first(irrigators)}
    return [(code, _irrigator(one)) for code, one in by_code.items()]


def _irrigator(one: Irrigator) -> str:
    if one.retired_at:
        return f"{one.code}, retired"
    return f"{one.code}, out of use: failed its check" if one.out_of_use_since else one.code


def _retired_first(devices: Iterable[DeviceT]) -> list[DeviceT]:
    return sorted(devices, key=lambda one: (one.code, one.retired_at is None))
