"""A clinic's own defaults: used where a visit is silent, marked, and no part of what was sent."""

from __future__ import annotations

import copy

from registry.intake.checks import content_digest
from tests.registry.intake.visits import a_visit, check, faults_of, with_irrigation

DEFAULTS = {
    "head_elevation_deg": 25,
    "recording.method": "video",
    "otoscopy.left": "clear",
    "irrigations.duration_s": 40,
}


def test_a_default_fills_what_is_absent_and_nothing_else() -> None:
    visit, faults = check(with_irrigation(1, duration_s=None), defaults=DEFAULTS)

    assert faults == []
    assert visit is not None
    assert visit.head_elevation_deg == 30
    assert visit.recording is not None
    assert visit.recording.method == "video"
    assert [one.duration_s for one in visit.irrigations] == [30, 40, 30, 30]
    assert visit.from_clinic_default == ("/recording/method", "/irrigations/1/duration_s")


def test_a_default_may_hold_for_one_stimulus() -> None:
    data = with_irrigation(0, set_temperature_c=None)
    data["irrigations"][2]["set_temperature_c"] = None

    visit, _ = check(
        data,
        defaults={
            "irrigations.warm.set_temperature_c": 50,
            "irrigations.cool.set_temperature_c": 24,
        },
    )

    assert visit is not None
    assert [one.set_temperature_c for one in visit.irrigations] == [50, 44, 24, 30]


def test_a_needed_field_may_come_from_a_default() -> None:
    visit, faults = check(a_visit(medium=None), defaults={"medium": "air"})

    assert faults == []
    assert visit is not None
    assert visit.medium == "air"
    assert visit.from_clinic_default == ("/medium",)


def test_a_default_is_checked_as_if_it_had_been_sent() -> None:
    assert faults_of(a_visit(medium=None), defaults={"medium": "steam"}) == [
        ("/medium", "not_in_list")
    ]


def test_what_was_sent_stays_untouched() -> None:
    data = with_irrigation(1, duration_s=None)
    before = copy.deepcopy(data)

    check(data, defaults=DEFAULTS)

    assert data == before


def test_defaults_on_what_is_no_visit_change_no_fault() -> None:
    no_visits: list[object] = [[], {"irrigations": 3, "recording": "x"}, {"irrigations": ["x"]}]
    for data in no_visits:
        assert set(faults_of(data)) <= set(faults_of(data, defaults=DEFAULTS))


def test_a_changed_default_does_not_change_the_digest_of_what_was_sent() -> None:
    data = a_visit(head_elevation_deg=None)
    plain, _ = check(data)
    one, _ = check(data, defaults={"head_elevation_deg": 30, "irrigations.volume_ml": 250})
    other, _ = check(data, defaults={"head_elevation_deg": 25})

    assert plain is not None
    assert one is not None
    assert other is not None
    assert content_digest(one) == content_digest(other) == content_digest(plain)
