"""Signals: one an episode, the evidence frozen, the tester first, every review kept."""

from __future__ import annotations

from datetime import UTC, date, timedelta
from uuid import uuid4

import pytest

from analytics.models import Signal, SignalEntry
from analytics.signals.effect import effects_check
from analytics.signals.found import Found, clusters
from analytics.signals.reading import (
    SignalFilters,
    SignalNotFound,
    signal_get,
    signals_visible,
)
from analytics.signals.review import SignalChanged, signal_reply, signal_review
from analytics.signals.rules import Backwards, exchanged_found, spells
from analytics.signals.sync import signals_sync
from registry.access.requests import access_under
from registry.access.scope import clinic_scope
from registry.models import AuditEvent, Tester
from registry.roster.body import RosterRefused
from tests.analytics.rows import make_signal
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db
LATER = date(2026, 5, 1)


def episode(**fields):
    """An episode as the engine gives it."""
    from analytics.detection.evaluation import Episode

    return Episode(
        **{
            "subject": "T",
            "measure": "response_level",
            "channel": "change",
            "tier": "worth_a_look",
            "opened": date(2026, 1, 1),
            "closed": None,
            "direction": "lower",
            "window": 3,
            "since": date(2025, 11, 1),
            "past_from": date(2025, 1, 1),
            "past_until": date(2025, 11, 1),
            "visits": 60,
            "past_visits": 200,
            "value": -0.2,
            "expected": 0.0,
            "difference": -0.2,
            "standard_error": 0.05,
            "low": -0.15,
            "high": 0.15,
            "z": -4.0,
            "p": 0.0001,
            "q": 0.01,
        }
        | fields
    )


def found(clinic, tester, **fields):
    return Found(
        **{
            "clinic_id": clinic.pk,
            "subject_kind": "tester",
            "subject_id": tester.id,
            "measure": "response_level",
            "channel": "change",
            "tier": "worth_a_look",
            "direction": "lower",
            "opened": date(2026, 1, 1),
            "closed": None,
            "since": date(2025, 11, 1),
            "last_beyond": date(2026, 2, 1),
            "distance": -3.4,
            "evidence": {"visits": 60},
        }
        | fields
    )


@pytest.fixture
def clinic(make_clinic):
    """A clinic whose scope is open."""
    clinic = make_clinic()
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        yield clinic


@pytest.fixture
def tester(clinic):
    return Tester.objects.get(clinic=clinic, code="T-07")


def sync(clinic, *of, month=date(2026, 2, 1)):
    return signals_sync([clinic.pk], of, month=month, by=TEST_ACTOR, at=NOW)


def test_overlapping_episodes_of_one_measure_are_one_thing_told_by_the_first_review():
    look = episode(closed=date(2026, 4, 1))
    review = episode(tier="please_review", opened=date(2026, 2, 1), z=-4.6)
    level = episode(channel="level", opened=date(2026, 3, 1), closed=date(2026, 6, 1))
    other = episode(measure="inverted")

    one, two = clusters([level, review, other, look])

    told = {cluster.told_by.measure: cluster for cluster in (one, two)}
    assert told["response_level"].told_by is review
    assert told["response_level"].opened == look.opened
    assert told["response_level"].closed is None
    assert len(told["response_level"].episodes) == 3


def test_episodes_apart_in_time_are_two_things():
    early = episode(closed=date(2026, 2, 1))
    late = episode(opened=date(2026, 4, 1))

    assert [one.opened for one in clusters([late, early])] == [early.opened, late.opened]


@pytest.mark.parametrize(
    ("months", "expected"),
    [
        ([1, 2, 3], [(1, 3, 5)]),
        ([1, 3], [(1, 3, 5)]),
        ([1, 4], [(1, 1, 3), (4, 4, 6)]),
        ([5], [(5, 5, None)]),
    ],
)
def test_marked_months_with_at_most_one_between_are_one_spell(months, expected):
    marked = [date(2026, month, 1) for month in months]

    made = spells(marked, until=date(2026, 6, 30))

    assert [(s.opened.month, s.last.month, s.closed and s.closed.month) for s in made] == expected


def test_an_episode_opens_one_signal_however_often_it_is_found(clinic, tester):
    first = sync(clinic, found(clinic, tester))
    again = sync(clinic, found(clinic, tester, distance=-5.0, evidence={"visits": 99}))

    row = Signal.objects.get()
    assert (len(first), len(again)) == (1, 0)
    # Frozen as it was, although the same episode now looks otherwise.
    assert (row.distance, row.evidence) == (-3.4, {"visits": 60})
    assert AuditEvent.objects.filter(action="signal.opened").count() == 1


def test_a_signal_that_now_asks_for_a_review_is_raised_and_keeps_what_it_said(clinic, tester):
    sync(clinic, found(clinic, tester))

    sync(
        clinic, found(clinic, tester, tier="please_review", distance=-4.9, evidence={"visits": 80})
    )

    row = Signal.objects.get()
    assert (row.tier, row.distance, row.evidence["visits"]) == ("please_review", -4.9, 80)
    assert row.evidence["before"] == {
        "tier": "worth_a_look",
        "channel": "change",
        "distance": -3.4,
        "evidence": {"visits": 60},
    }


def test_a_signal_closes_when_its_episode_does_or_is_no_longer_found(clinic, tester):
    sync(clinic, found(clinic, tester), found(clinic, tester, measure="inverted"))

    sync(clinic, found(clinic, tester, closed=date(2026, 4, 1)), month=LATER)

    closed = dict(Signal.objects.values_list("measure", "back_within"))
    assert closed == {"response_level": date(2026, 4, 1), "inverted": LATER}


def test_a_later_episode_is_a_signal_of_its_own(clinic, tester):
    sync(clinic, found(clinic, tester, closed=date(2026, 3, 1)))

    opened = sync(
        clinic,
        found(clinic, tester, closed=date(2026, 3, 1)),
        found(clinic, tester, opened=LATER, since=LATER, last_beyond=LATER),
        month=LATER,
    )

    assert [one.opened_month for one in opened] == [LATER]
    assert Signal.objects.count() == 2


@pytest.fixture
def people(clinic, make_member):
    """Access of everybody who may have to do with a signal."""
    lead = make_member("lead", clinic.network)
    places = [("tester", clinic), ("site_lead", clinic), ("coordinator", clinic)]
    members = {"lead": lead} | {role: make_member(role, place) for role, place in places}
    members["colleague"] = make_member_of_colleague(make_member, clinic)
    return {
        name: access_under(member, request_id="r", by_token=True)
        for name, member in members.items()
    }


def make_member_of_colleague(make_member, clinic):
    from registry.models import Membership, User

    user = User(username="colleague")
    user.set_unusable_password()
    user.save()
    other = Tester.objects.get(clinic=clinic, code="T-08")
    return Membership.objects.create(
        user=user, role="tester", clinic=clinic, tester_id=other.id, granted_at=NOW, granted_by="x"
    )


def readers(people, signal, at):
    seen = set()
    for name, access in people.items():
        try:
            signal_get(access, signal.id, at=at)
        except SignalNotFound:
            continue
        seen.add(name)
    return seen


def test_the_tester_sees_it_first_and_nobody_elses_tester_ever(clinic, tester, people):
    (signal,) = sync(clinic, found(clinic, tester, tier="please_review"))
    week = timedelta(days=7)

    assert readers(people, signal, NOW) == {"tester"}
    assert readers(people, signal, NOW + week - timedelta(seconds=1)) == {"tester"}
    assert readers(people, signal, NOW + week) == {"tester", "site_lead", "lead"}


def test_a_reply_opens_it_to_those_who_lead(clinic, tester, people):
    (signal,) = sync(clinic, found(clinic, tester, tier="please_review"))

    signal_reply(signal, {"note": "New irrigator since May."}, zone=UTC, by=TEST_ACTOR, at=NOW)

    assert readers(people, signal, NOW) == {"tester", "site_lead", "lead"}
    assert SignalEntry.objects.get().note == "New irrigator since May."


def test_without_an_account_there_is_nobody_to_see_it_first(clinic, tester):
    (signal,) = sync(clinic, found(clinic, tester))

    assert signal.leads_from == NOW


def test_worth_a_look_is_listed_to_nobody_who_leads_unless_asked_for(clinic, tester, people):
    make_signal(clinic, subject_id=tester.id, tier="worth_a_look")
    review = make_signal(clinic, subject_id=tester.id, measure="inverted")
    later = NOW + timedelta(days=30)

    def listed(name, **filters):
        rows = signals_visible(people[name], SignalFilters(**filters), at=later)
        return sorted(row.measure for row in rows)

    assert listed("lead") == [review.measure]
    assert listed("lead", tester=tester.id) == ["inverted", "right_left_balance"]
    assert listed("tester") == ["inverted", "right_left_balance"]
    assert listed("coordinator") == []
    assert listed("colleague") == []


REVIEW = {"state": "acted_on", "cause": "technique", "action": "observed_test"}


def review(signal, data, version=1):
    return signal_review(signal, data, if_version=version, zone=UTC, by=TEST_ACTOR, at=NOW)


def test_a_review_is_kept_beside_those_before_it(clinic, tester):
    signal = make_signal(clinic, subject_id=tester.id)

    review(signal, REVIEW | {"due_on": "2026-06-01", "note": "Watched two tests."})
    row = review(signal, {"state": "explained", "cause": "patient_mix"}, version=2)

    assert (row.state, row.cause, row.action, row.version) == ("explained", "patient_mix", None, 3)
    said = SignalEntry.objects.order_by("made_at", "id").values_list("state", flat=True)
    assert sorted(said) == ["acted_on", "explained"]
    assert AuditEvent.objects.filter(action="signal.reviewed").count() == 2


def test_two_reviews_of_one_version_do_not_both_stand(clinic, tester):
    signal = make_signal(clinic, subject_id=tester.id)
    review(signal, REVIEW)

    with pytest.raises(SignalChanged):
        review(signal, {"state": "explained", "cause": "chance"})

    assert SignalEntry.objects.count() == 1


@pytest.mark.parametrize(
    ("data", "faults"),
    [
        ({}, {("/state", "required")}),
        ({"state": "ignored"}, {("/state", "not_in_list")}),
        ({"state": "explained"}, {("/cause", "cause_needed")}),
        ({"state": "acted_on", "cause": "irrigator"}, {("/action", "action_needed")}),
        (REVIEW | {"due_on": "2026-03-09"}, {("/due_on", "date_in_past")}),
        (REVIEW | {"note": "x" * 501}, {("/note", "note_too_long")}),
        (REVIEW | {"note": "ask m.mila@example.org"}, {("/note", "note_names_somebody")}),
        (REVIEW | {"note": "born 02.03.1950"}, {("/note", "note_names_somebody")}),
        (REVIEW | {"note": "record 4711 4711"}, {("/note", "note_names_somebody")}),
        (REVIEW | {"colour": "green"}, {("", "unknown_field")}),
    ],
)
def test_a_review_that_cannot_be_kept_says_all_that_is_wrong(clinic, tester, data, faults):
    signal = make_signal(clinic, subject_id=tester.id)

    with pytest.raises(RosterRefused) as refused:
        review(signal, data)

    assert {(fault.pointer, fault.code) for fault in refused.value.faults} == faults
    assert not SignalEntry.objects.exists()


@pytest.mark.parametrize("note", ["3 of 12 visits, 44.5 Cel", "right-left balance, see T-07"])
def test_a_plain_sentence_is_kept(clinic, tester, note):
    signal = make_signal(clinic, subject_id=tester.id)

    review(signal, REVIEW | {"note": note})

    assert SignalEntry.objects.get().note == note


@pytest.mark.parametrize(
    ("back_within", "effect"), [(date(2026, 5, 1), "back_within"), (None, "too_few_visits")]
)
def test_the_effect_is_looked_at_when_its_day_has_come(clinic, tester, back_within, effect):
    signal = make_signal(clinic, subject_id=tester.id, back_within=back_within)
    review(signal, REVIEW | {"due_on": "2026-06-01"})

    effects_check([clinic.pk], covers_until=date(2026, 5, 31), at=NOW)
    before = Signal.objects.get().effect
    effects_check([clinic.pk], covers_until=date(2026, 6, 30), at=NOW)

    row = Signal.objects.get()
    assert before is None
    assert (row.effect, row.effect_checked_on) == (effect, date(2026, 6, 30))


def backwards(days, testers):
    clinic = uuid4()
    return [
        Backwards(1, clinic, tester, date(2026, 3, 1) + timedelta(days=day))
        for day, tester in zip(days, testers, strict=True)
    ]


@pytest.mark.parametrize(
    ("days", "hands", "expected"),
    [
        ([0, 30], "AA", ["tester"]),
        ([0, 31], "AA", []),
        ([0, 10], "AB", ["clinic"]),
        ([0], "A", []),
    ],
)
def test_two_visits_backwards_within_30_days_are_exchanged_labels(days, hands, expected):
    testers = {hand: uuid4() for hand in hands}

    made = exchanged_found(backwards(days, [testers[h] for h in hands]), until=date(2026, 6, 30))

    assert [one.subject_kind for one in made] == expected
    assert all(one.measure == "labels_exchanged" for one in made)


def test_nothing_is_found_of_nothing(clinic):
    assert clusters([]) == []
    assert exchanged_found([], until=LATER) == []
    assert sync(clinic) == []
