"""What the page of one visit says; limits and formulas are those of the visit's own result."""

from __future__ import annotations

import re
from typing import Any

import pytest

from registry.access.scope import clinic_scope
from registry.models import Irrigator
from tests.conftest import NOW, TEST_ACTOR
from tests.registry.pages import worlds
from tests.registry.pages.conftest import index, said

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(make_clinic: Any, store: Any, see: Any) -> Any:
    """The page of a visit of some kind."""

    def open_(**fields: Any) -> Any:
        clinic = make_clinic()
        return see(clinic, f"/visits/{store(clinic, **fields)}/")

    return open_


def test_weakness_is_said_with_its_side_and_both_errors_apart(page: Any) -> None:
    # Right 58.6 against left 36.7 of 95.3 deg/s: 100 * 21.9 / 95.3 = 22.98 (Jongkees et al.
    # 1962); the retest error by the delta method from SE(peak) = sqrt(1 + (0.17 peak)^2).
    shown = index(page(**worlds.whole()), "unilateral_weakness_percent")

    assert shown.startswith("23 % lower on the left")
    assert re.search(r"could be \d+ to \d+ % lower on the left on another day", shown)
    assert re.search(r"retest standard error: \d+\.\d points", shown)
    assert re.search(r"within-response standard error: \d+\.\d points", shown)


def test_without_beats_the_within_response_error_is_undefined_and_not_0(page: Any) -> None:
    shown = index(page(), "unilateral_weakness_percent")

    assert "within-response standard error: undefined, not every response has beats" in shown


def test_a_negative_peak_is_said_to_beat_against_the_expected_direction(page: Any) -> None:
    # 100 * (28 + 17 - 20 + 6) / (28 + 17 + 20 - 6) = 52.5 with the sign kept.
    response = page(**worlds.negative_peak())

    words = said(response)
    assert "6.0 deg/s, beating left: against the expected direction" in words
    assert index(response, "unilateral_weakness_percent").startswith("53 % lower on the left")


def test_responses_that_add_up_to_nothing_give_a_reason_and_no_figure(page: Any) -> None:
    response = page(**worlds.sum_not_positive())

    for name in ("unilateral_weakness_percent", "directional_preponderance_percent"):
        assert index(response, name) == "undefined: the responses add up to zero or less"
    assert index(response, "total_spv") == "2.0 deg/s, on balance against the expected direction"


def test_one_temperature_leaves_the_weakness_undefined_and_gives_its_own_pair(page: Any) -> None:
    # Warm pair: 100 * (22 - 21) / 43 = 2.3.
    response = page(**worlds.monothermal())

    assert index(response, "unilateral_weakness_percent") == (
        "undefined: only one temperature was given"
    )
    assert index(response, "monothermal_warm_percent") == "2 % lower on the left"
    # The one figure that such a visit has must not lie folded away among the others.
    assert said(response).index("Warm pair alone") < said(response).index("Criteria")
    assert index(response, "monothermal_cool_percent") == "undefined: an irrigation is missing"
    assert index(response, "cool_total") == "undefined: an irrigation is missing"


def test_a_fifth_irrigation_counts_and_the_first_is_said_not_to(page: Any) -> None:
    words = said(page(**worlds.five_irrigations()))

    assert "does not count: another attempt counts" in words
    assert "Right ear, warm, attempt 2" in words
    assert "check of the first response" in words
    assert "What the first attempts alone would have given" in words


def test_an_unusable_attempt_says_why_it_does_not_count(page: Any) -> None:
    words = said(page(**worlds.repeat_without_reason()))

    assert "does not count: not usable (eyes closed)" in words
    assert "Repeat without a reason" in words


def test_an_inverted_response_is_kept_said_and_comes_with_its_caution(page: Any) -> None:
    words = said(page(**worlds.inverted()))

    assert "15.0 deg/s, beating right: against the expected direction" in words
    assert "Undetermined: unilateral weakness" in words
    assert "because a response beats against the expected direction" in words
    assert "can come from a perforated drum with warm air" in words


def test_the_safety_finding_stands_before_everything_else(page: Any) -> None:
    words = said(page(**worlds.open_drum_and_water()))

    content = words[words.index("Sign out") :]
    assert content.startswith("Sign out Safety: open water in an ear with an open drum")
    assert "Never water into an ear with a possibly perforated drum." in content
    assert content.index("Safety:") < content.index("Visit V-KQMPX") < content.index("Results")


def test_an_irrigator_out_of_use_stands_before_the_results(
    make_clinic: Any, store: Any, see: Any
) -> None:
    clinic = make_clinic()
    visit_id = store(clinic)
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        Irrigator.objects.filter(clinic=clinic).update(out_of_use_since=NOW)

    words = said(see(clinic, f"/visits/{visit_id}/"))

    assert words.index("Irrigator IR-2 is out of use") < words.index("Visit V-KQMPX")
    assert "Too warm a stimulus burns" in words


def test_a_temperature_out_of_tolerance_comes_with_its_caution(page: Any) -> None:
    words = said(page(**worlds.whole()))

    assert "0.9 °C warmer than set; tolerance 0.5 °C." in words
    assert "too warm a stimulus burns" in words


def test_nothing_met_is_said_of_the_set_and_never_called_normal(page: Any) -> None:
    words = said(page(peaks=(26.0, 22.0, 25.0, 21.0)))

    assert "No criterion of this set is met" in words
    assert "Criteria set: default, version 1." in words
    assert "normal" not in words.lower()


def test_a_criterion_that_is_met_shows_value_limit_and_source(page: Any) -> None:
    # 100 * (48.0 - 24.0) / 72.0 = 33.3.
    words = said(page(peaks=(28.0, 20.0, 14.0, 10.0)))

    assert "Unilateral weakness beyond the limit: 33 % lower on the left (met above 25 %)" in words
    assert "Source of the limit: common practice" in words


@pytest.mark.parametrize(
    "kind",
    ["whole", "negative_peak", "sum_not_positive", "monothermal", "five_irrigations", "inverted"],
)
def test_no_percentage_stands_with_a_bare_sign(kind: str, page: Any) -> None:
    words = said(page(**getattr(worlds, kind)()))

    assert not re.search(r"[-+\u2212]\s?\d+(\.\d+)?\s?%", words)
    assert not re.search(r"[-+\u2212]\d+(\.\d+)? deg/s", words)
    # What a figure is followed by: its side or direction. Sources and limits are not figures.
    figures = re.sub(r"Source of the limit: .*?(?= \w+: |Criteria set)|\(met [^)]*\)", "", words)
    for found in re.finditer(r"\d+ %,? (\w+)", figures):
        assert found[1] in {"lower", "stronger", "towards", "right", "remains"}, found[0]


def test_a_printed_figure_stands_beside_the_one_computed_here(page: Any) -> None:
    # 100 * (31.2 + 16.9 - 19.8 - 27.4) / 95.3 = 0.94.
    words = said(page(**worlds.whole()))

    assert "directional preponderance 12.0 %, right-beating 0.9 % stronger right-beating" in words


def test_an_unsigned_visit_claims_no_direction(page: Any) -> None:
    words = said(page(sign_convention="unsigned"))

    assert "28.4 deg/s, direction not known" in words
    assert "beating right" not in words


def test_the_time_course_marks_window_fixation_and_culmination(page: Any) -> None:
    response = page(**worlds.whole())

    drawn = response.content.decode()
    assert drawn.count("<figure class=") == 4
    assert "10 s window of the peak" in drawn
    assert "fixation" in drawn
    assert re.search(r"culmination \d+ s", drawn)
    assert "time from onset (s)" in drawn


def test_the_beats_of_a_response_can_be_had_as_a_table(
    make_clinic: Any, store: Any, see: Any
) -> None:
    clinic = make_clinic()
    visit_id = store(clinic, **worlds.whole())

    response = see(clinic, f"/visits/{visit_id}/beats/right_warm_1.csv")

    lines = response.content.decode().splitlines()
    assert response["Content-Type"].startswith("text/csv")
    assert lines[0] == "time_s,spv"
    assert len(lines) == 1 + len(worlds.beats(31.2)["time_s"])


def test_a_withdrawn_visit_says_so_first(
    make_clinic: Any, store: Any, make_member: Any, browser_of: Any
) -> None:
    clinic = make_clinic()
    address = f"/visits/{store(clinic)}/"
    browser = browser_of(make_member("coordinator", clinic))

    browser.post(f"{address}withdraw/")

    words = said(browser.get(address))
    assert words.index("This visit was withdrawn") < words.index("Visit V-KQMPX")
    assert " Amend " not in words
