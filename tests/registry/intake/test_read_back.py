"""Whatever valid visit is stored, it reads back as it was sent and computes to the same again.

Derived: storing adds nothing and takes nothing away, so computing again can change nothing, and
an amendment by a visit's own body changes no result.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from registry.access.scope import clinic_scope
from registry.caloric.vocabulary import MEDIA, OTOSCOPY, REPEAT_REASONS, SIGN_CONVENTIONS
from registry.intake.recompute import visits_recompute
from registry.intake.submit import visit_amend, visit_submit
from registry.models import Visit, VisitResult
from registry.reading.bodies import VisitBody, body_json, visit_body
from tests.conftest import NOW, TEST_ACTOR, irrigation

CELLS = [(ear, stimulus) for stimulus in ("warm", "cool", "ice") for ear in ("right", "left")]
# What a reader gets beside the visit itself; an amendment sends only the visit.
NOT_SENT = {
    "id clinic version withdrawn_at withdrawn received_at received_via sign_convention_sent",
    "directions_known protocol_done from_clinic_default indices indices_first_attempt",
    "assessments criteria_set findings responses",
}
ANSWERED = frozenset(name for line in NOT_SENT for name in line.split())
SAME = ("directions_known", "protocol_done", "indices", "indices_first_attempt", "assessments")

speeds = st.floats(-200, 200, allow_nan=False).map(lambda value: round(value, 3))
maybe = st.none


@st.composite
def beats(draw: st.DrawFn) -> dict[str, Any]:
    times = sorted(draw(st.sets(st.integers(200, 1200), max_size=60, min_size=1)))
    level = draw(st.floats(-60, 60))
    spread = draw(st.lists(st.floats(-5, 5), min_size=len(times), max_size=len(times)))
    return {"time_s": [one / 10 for one in times], "spv": [level + one for one in spread]}


@st.composite
def responses(draw: st.DrawFn, ear: str, stimulus: str, attempt: int) -> dict[str, Any]:
    found = irrigation(ear, stimulus, draw(speeds), attempt=attempt)
    found |= draw(
        st.fixed_dictionaries(
            {},
            optional={
                "fixation_spv": speeds,
                "pre_fixation_spv": speeds,
                "baseline_spv": speeds,
                "beats": beats(),
                "peak_basis": st.just("mean_10s"),
                "repeat_reason": st.sampled_from(REPEAT_REASONS),
                "medium": st.sampled_from(MEDIA),
                "tester": st.just("T-08"),
                "usable": st.booleans(),
            },
        )
    )
    if draw(st.booleans()) and "beats" in found:
        del found["peak_spv"]
        found.pop("peak_basis", None)
    return found


@st.composite
def sent_visits(draw: st.DrawFn) -> dict[str, Any]:
    cells = draw(st.lists(st.sampled_from(CELLS), min_size=1, max_size=6, unique=True))
    convention = draw(st.sampled_from(SIGN_CONVENTIONS))
    irrigations = [
        draw(responses(ear, stimulus, attempt))
        for ear, stimulus in cells
        for attempt in range(1, draw(st.integers(1, 2)) + 1)
    ]
    for one in irrigations:
        if convention == "unsigned":
            one["peak_spv"] = abs(one.get("peak_spv", 1.0))
            if draw(st.booleans()):
                one["beat_direction"] = draw(st.sampled_from(("right", "left")))
    marked = draw(st.sampled_from(irrigations))
    if marked.get("usable", True) and draw(st.booleans()):
        marked["counts"] = True
    spontaneous = draw(st.fixed_dictionaries({}, optional={"spv": speeds}))
    handling = draw(st.sampled_from(("not_removed", "removed", "unknown")))
    return {
        "visit_date": draw(st.sampled_from(("2026-03-02", "2025-12-31"))),
        "age_years": draw(st.integers(0, 120)),
        "sign_convention": convention,
        "spontaneous": spontaneous | {"kind": "steady_horizontal", "handling": handling},
        "otoscopy": {"right": draw(st.sampled_from(OTOSCOPY))},
        "irrigations": irrigations,
        "reported": draw(maybe() | st.just({"unilateral_weakness_percent": 9.8})),
    }


def body_of(visit_id: Any) -> dict[str, Any]:
    body: VisitBody = visit_body(Visit.objects.get(id=visit_id))
    return body_json(body, reduced=False)


def test_a_stored_visit_computes_to_the_same_again(make_clinic: Any, visit_payload: Any, db: Any):
    clinic = make_clinic()
    clinic.visit_defaults = {"irrigations.duration_s": 30, "recording.method": "video"}
    clinic.save()
    numbers = iter(range(10**6))

    @settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
    @given(sent=sent_visits())
    def check(sent: dict[str, Any]) -> None:
        letters = "".join("BCDFGHJKLM"[int(digit)] for digit in f"{next(numbers):06}")
        data = visit_payload(visit_ref=f"V-{letters}", **sent)
        visit_id = visit_submit(clinic=clinic, data=data, by=TEST_ACTOR, at=NOW, via="api").visit_id
        row, before = Visit.objects.get(id=visit_id), body_of(visit_id)

        differences = visits_recompute([row], clinic_id=clinic.pk, at=NOW + timedelta(hours=1))
        assert differences.visits_changed == 0
        assert body_of(visit_id) == before

        own = {name: value for name, value in before.items() if name not in ANSWERED}
        visit_amend(
            clinic=clinic,
            visit_id=visit_id,
            data=own,
            reason="reviewed",
            expected_version=1,
            by=TEST_ACTOR,
            at=NOW,
        )
        after = body_of(visit_id)
        assert {name: after[name] for name in own} == own
        assert [after[name] for name in SAME] == [before[name] for name in SAME]
        assert after["findings"] == before["findings"]
        assert VisitResult.objects.filter(visit_id=visit_id).count() == 1

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        check()
