"""Case-mix adjustment: simulated truth found again, and honest words where it cannot be."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analytics.statistics.casemix import CaseMix, Visits, adjust_means, adjust_shares

BOTH = pytest.mark.parametrize(("adjust", "shares"), [(adjust_means, False), (adjust_shares, True)])


def network(
    seed: int, *, shares: bool = False, clinics: int = 20, testers: int = 4, spread: float = 0.5
) -> tuple[dict[str, Any], np.ndarray]:
    """Visits of clinics whose testers see patients of their own ages; and testers' effects."""
    random = np.random.default_rng(seed)
    many = clinics * testers
    tester = np.repeat(np.arange(many), random.integers(40, 160, many))
    clinic = tester // testers
    irrigator = clinic * 3 + random.integers(0, 3, len(tester))
    truth = random.normal(0, spread, many)
    age = 50 + 8 * random.normal(size=many)[tester] + 10 * random.normal(size=len(tester))
    level = 0.05 * (age - 50) + truth[tester] + random.normal(0, 0.3, clinics)[clinic]
    level = level + random.normal(0, 0.2, clinics * 3)[irrigator] - 1.0
    outcome = level + random.normal(size=len(tester))
    if shares:
        outcome = (random.random(len(tester)) < 1 / (1 + np.exp(-level))) * 1.0
    sent = {
        "outcome": outcome,
        "testers": np.char.add("T-", tester.astype(str)),
        "covariates": {"age": age, "female": random.integers(0, 2, len(tester)) * 1.0},
        "clinics": clinic,
        "irrigators": irrigator,
    }
    return sent, truth


def by_label(found: CaseMix, field: str) -> np.ndarray:
    ordered = sorted(found.testers, key=lambda each: int(str(each.label).removeprefix("T-")))
    return np.array([getattr(each, field) for each in ordered])


@BOTH
def test_age_and_the_spreads_of_all_three_groupings_are_found_again(adjust, shares):
    sent, _ = network(1, shares=shares)

    found = adjust(Visits(**sent))

    assert found.reason is None
    assert found.notes == ()
    slopes = {each.name: each for each in found.coefficients}
    assert slopes["age"].estimate == pytest.approx(0.05, abs=3 * slopes["age"].se)
    assert slopes["female"].estimate == pytest.approx(0.0, abs=3 * slopes["female"].se)
    assert found.sds == pytest.approx({"tester": 0.5, "clinic": 0.3, "irrigator": 0.2}, abs=0.12)


@BOTH
def test_adjusted_values_lie_nearer_to_the_truth_than_plain_ones(adjust, shares):
    sent, truth = network(2, shares=shares)

    found = adjust(Visits(**sent))

    plain, adjusted, shrunken = (
        np.corrcoef(by_label(found, field), truth)[0, 1]
        for field in ("observed", "adjusted", "shrunken")
    )
    assert adjusted > plain + 0.05
    assert shrunken > adjusted


@BOTH
def test_intervals_hold_what_the_tester_would_have_had_with_the_networks_mix(adjust, shares):
    held = []
    for seed in range(4):
        sent, truth = network(10 + seed, shares=shares)
        found = adjust(Visits(**sent))
        expected = found.overall + truth
        if shares:
            odds = found.overall / (1 - found.overall) * np.exp(truth)
            expected = odds / (1 + odds)
        held.append((by_label(found, "low") <= expected) & (expected <= by_label(found, "high")))

    assert np.mean(held) == pytest.approx(0.95, abs=0.05)


@BOTH
def test_expected_values_of_all_testers_add_up_to_what_was_observed(adjust, shares):
    sent, _ = network(3, shares=shares)

    found = adjust(Visits(**sent))

    visits = by_label(found, "visits")
    observed = by_label(found, "observed")
    assert (visits * by_label(found, "expected")).sum() == pytest.approx((visits * observed).sum())
    assert found.overall == pytest.approx(sent["outcome"].mean())
    if shares:
        assert by_label(found, "ratio") == pytest.approx(observed / by_label(found, "expected"))


def test_without_covariates_everybody_is_expected_to_have_the_overall_value():
    sent, _ = network(4)

    found = adjust_means(Visits(sent["outcome"], sent["testers"]))

    assert by_label(found, "expected") == pytest.approx(found.overall)
    assert by_label(found, "adjusted") == pytest.approx(by_label(found, "observed"))


def test_units_of_a_covariate_change_its_slope_and_nothing_else():
    sent, _ = network(5)
    in_months = sent | {"covariates": {"age": sent["covariates"]["age"] * 12}}
    in_years = sent | {"covariates": {"age": sent["covariates"]["age"]}}

    one, other = adjust_means(Visits(**in_years)), adjust_means(Visits(**in_months))

    assert one.coefficients[0].estimate == pytest.approx(12 * other.coefficients[0].estimate)
    assert by_label(one, "shrunken") == pytest.approx(by_label(other, "shrunken"))


def test_incomplete_visits_are_left_out_and_counted():
    sent, _ = network(6)
    age = sent["covariates"]["age"].copy()
    outcome = sent["outcome"].copy()
    age[:30] = np.nan
    outcome[20:50] = np.nan

    found = adjust_means(Visits(**(sent | {"outcome": outcome, "covariates": {"age": age}})))
    without = {
        key: value[50:] for key, value in sent.items() if key not in ("covariates", "outcome")
    }
    second = adjust_means(Visits(outcome[50:], covariates={"age": age[50:]}, **without))

    assert (found.incomplete, found.visits) == (50, len(outcome) - 50)
    assert by_label(found, "shrunken") == pytest.approx(by_label(second, "shrunken"))


def test_columns_that_say_nothing_new_are_left_out_and_named():
    sent, _ = network(7)
    age = sent["covariates"]["age"]
    columns = {"age": age, "same": np.ones(len(age)), "days": age * 365.25 + 4}

    found = adjust_means(Visits(**(sent | {"covariates": columns})))

    assert [each.name for each in found.coefficients] == ["age"]
    assert found.notes == ("no_spread:same", "repeats_others:days")


@BOTH
def test_one_tester_in_each_clinic_is_told_and_both_stay_together(adjust, shares):
    sent, _ = network(8, shares=shares, testers=1)

    found = adjust(Visits(**sent))

    assert found.notes == ("one_tester_in_each_clinic", "irrigators_not_crossed")
    assert set(found.sds) == {"tester"}
    assert found.reason is None


def cut(sent: dict[str, Any], kept: np.ndarray) -> dict[str, Any]:
    columns = {name: column[kept] for name, column in sent["covariates"].items()}
    return {key: value[kept] for key, value in sent.items() if key != "covariates"} | {
        "covariates": columns
    }


def test_too_few_clinics_to_have_a_spread_are_told():
    sent, _ = network(9, clinics=4)

    found = adjust_means(Visits(**sent))

    assert found.notes == ("few_clinics",)
    assert set(found.effects) == {"tester", "irrigator"}


def test_too_few_clinics_with_several_testers_are_told():
    sent, _ = network(10)
    number = np.char.replace(sent["testers"], "T-", "").astype(int)
    # The first four clinics keep two testers each, the others one.
    kept = (number % 4 == 0) | ((number % 4 == 1) & (number < 16))

    found = adjust_means(Visits(**cut(sent, kept)))

    assert found.notes[0] == "few_testers_share_a_clinic"
    assert "clinic" not in found.effects


def test_each_tester_with_an_irrigator_of_its_own_cannot_be_told_from_it():
    sent, _ = network(11)

    own = adjust_means(Visits(**(sent | {"irrigators": sent["testers"]})))
    few = adjust_means(Visits(**(sent | {"irrigators": sent["clinics"] % 2})))

    assert own.notes == ("irrigators_not_crossed",)
    assert few.notes == ("few_irrigators",)


@BOTH
def test_few_testers_are_adjusted_for_their_mix_and_not_compared(adjust, shares):
    sent, _ = network(12, shares=shares, clinics=1)

    found = adjust(Visits(**sent))

    assert found.reason == "few_testers"
    assert found.effects == {}
    assert all(each.expected is not None and each.shrunken is None for each in found.testers)


def test_a_visit_each_cannot_tell_testers_from_visits():
    random = np.random.default_rng(13)

    found = adjust_means(Visits(random.normal(size=60), np.arange(60)))

    assert found.reason == "no_repeats"
    assert found.testers[0].shrunken is None


@pytest.mark.parametrize(
    ("adjust", "sent", "reason"),
    [
        (adjust_means, Visits([], []), "no_visits"),
        (adjust_shares, Visits([np.nan], ["a"]), "no_visits"),
        (adjust_means, Visits([2.0], ["a"]), "outcome_is_constant"),
        (adjust_shares, Visits([0.0, 0.0, 0.0], ["a", "a", "b"]), "outcome_is_constant"),
        (adjust_means, Visits([1.0, 2.0], [1, 2], {"age": [3.0, 4.0]}), "few_visits"),
        (
            adjust_shares,
            Visits([1.0] + [0.0] * 29, [1, 2] * 15, {"age": np.arange(30.0)}),
            "few_events",
        ),
    ],
)
def test_where_nothing_can_be_expected_only_what_was_observed_is_given(adjust, sent, reason):
    found = adjust(sent)

    assert found.reason == reason
    assert all((each.expected, each.adjusted, each.ratio) == (None,) * 3 for each in found.testers)
    assert all(np.isfinite(each.observed) for each in found.testers)


def test_a_column_that_tells_all_events_is_said_not_to_settle():
    outcome = np.repeat([0.0, 1.0], 40)

    found = adjust_shares(Visits(outcome, np.arange(80) % 8, {"told": outcome}))

    assert found.reason == "not_settled"
    assert found.testers[0].expected is None


def test_where_testers_do_not_settle_the_mix_is_still_adjusted_for():
    # Every tester always gets its own number: no spread within, and the model runs off.
    tester = np.arange(80) % 8

    found = adjust_means(Visits(tester * 1.0, tester))

    assert found.reason == "not_settled"
    assert found.effects == {}
    assert found.testers[3].observed == 3.0
    assert found.testers[3].expected == pytest.approx(3.5)


def test_what_makes_no_sense_is_refused():
    with pytest.raises(ValueError, match="0 or 1, not 2"):
        adjust_shares(Visits([0.0, 2.0], ["a", "b"]))
    with pytest.raises(ValueError, match="age has shape"):
        adjust_means(Visits([0.0, 2.0], ["a", "b"], {"age": [1.0]}))
    with pytest.raises(ValueError, match="tester has shape"):
        adjust_means(Visits([0.0, 2.0], ["a"]))
