"""Entering, amending and withdrawing a visit by hand."""

from __future__ import annotations

import re
from typing import Any

import pytest

from registry.access.scope import clinic_scope
from registry.models import Irrigation, ResponseBeats, Visit
from tests.conftest import TEST_ACTOR
from tests.registry.pages import worlds
from tests.registry.pages.conftest import said

pytestmark = pytest.mark.django_db

NEW = "/visits/new/"


@pytest.fixture
def typed() -> dict[str, str]:
    """A bithermal visit as it is typed: temperatures once, one peak a row."""
    texts = {
        "visit_ref": "V-KQMPX",
        "subject_ref": "S-HTKQB",
        "visit_date": "2026-03-02",
        "age_years": "54",
        "tester": "T-07",
        "irrigator": "IR-2",
        "medium": "water_open",
        "sign_convention": "expected_positive",
        "warm_temperature_c": "44",
        "cool_temperature_c": "30",
    }
    cells = (("right", "warm"), ("left", "warm"), ("right", "cool"), ("left", "cool"))
    for place, ((ear, stimulus), peak) in enumerate(
        zip(cells, ("28.4", "17.2", "19.6", "12.8"), strict=True)
    ):
        texts |= {
            f"irrigations.{place}.ear": ear,
            f"irrigations.{place}.stimulus": stimulus,
            f"irrigations.{place}.peak_spv": peak,
        }
    return texts


@pytest.fixture
def coordinator(make_clinic: Any, make_member: Any, browser_of: Any) -> Any:
    return browser_of(make_member("coordinator", make_clinic()))


def stored(model: Any) -> list[Any]:
    from registry.models import Clinic

    with clinic_scope(Clinic.objects.values_list("id", flat=True), by=TEST_ACTOR):
        return list(model.objects.order_by("pk"))


def value_of(response: Any, name: str) -> str:
    """What stands in an input of a page."""
    found = re.search(rf'<input[^>]*name="{re.escape(name)}"[^>]*>', response.content.decode())
    assert found is not None, f"there is no input {name}"
    value = re.search(r'value="([^"]*)"', found[0])
    return value[1] if value else ""


def test_the_cautions_stand_above_the_form(coordinator: Any) -> None:
    words = said(coordinator.get(NEW))

    for caution in (
        "Look into each ear first. Never water into an ear with a possibly perforated drum.",
        "Stop when the subject asks.",
        "Vertigo and nausea are expected. Do not leave the person alone, and no driving until",
        "Follow the local protocol's contraindications",
        "Too warm a stimulus burns.",
        "Local rules and licensed practice decide.",
    ):
        assert words.index(caution) < words.index("Visit code")


def test_a_typed_visit_is_stored_as_typed_and_its_page_opens(
    coordinator: Any, typed: dict[str, str]
) -> None:
    response = coordinator.post(NEW, typed, follow=True)

    assert response.redirect_chain[0][0].startswith("/visits/")
    assert "The visit is stored." in said(response)
    (visit,) = stored(Visit)
    assert (visit.visit_ref, visit.received_via) == ("V-KQMPX", "form")
    peaks = {str(one): (one.peak_spv, one.set_temperature_c) for one in stored(Irrigation)}
    assert peaks == {
        "right_warm_1": (28.4, 44.0),
        "left_warm_1": (17.2, 44.0),
        "right_cool_1": (19.6, 30.0),
        "left_cool_1": (12.8, 30.0),
    }


def test_a_row_without_a_peak_or_anything_else_is_not_sent(
    coordinator: Any, typed: dict[str, str]
) -> None:
    for place in (2, 3):
        typed[f"irrigations.{place}.peak_spv"] = " "

    coordinator.post(NEW, typed)

    assert [str(one) for one in stored(Irrigation)] == ["left_warm_1", "right_warm_1"]


def test_every_fault_is_shown_at_once_beside_its_input_and_the_input_is_kept(
    coordinator: Any, typed: dict[str, str]
) -> None:
    typed |= {
        "age_years": "150",
        "visit_date": "02/03/2026",
        "irrigations.0.peak_spv": "31,2",
        "irrigations.1.set_temperature_c": "30",
        "irrigations.3.fixation_from_s": "100",
    }

    response = coordinator.post(NEW, typed)

    assert response.status_code == 422
    assert not stored(Visit)
    page = response.content.decode()
    for name, kept in (
        ("age_years", "150"),
        ("irrigations.0.peak_spv", "31,2"),
        ("irrigations.1.set_temperature_c", "30"),
        ("visit_ref", "V-KQMPX"),
    ):
        assert value_of(response, name) == kept
    for marked in (
        "f-age-years",
        "f-visit-date",
        "f-irrigations-0-peak-spv",
        "f-irrigations-1-set-temperature-c",
        "f-irrigations-3-fixation-to-s",
    ):
        assert f'href="#{marked}"' in page
        assert f'id="{marked}-problem"' in page
        assert f'aria-describedby="{marked}-problem"' in page or f"{marked}-hint" in page
    assert "5 things to mend" in said(response)


def test_a_fault_in_a_later_row_points_at_that_row_though_blank_ones_are_left_out(
    coordinator: Any, typed: dict[str, str]
) -> None:
    typed["irrigations.1.peak_spv"] = ""
    typed["irrigations.3.peak_spv"] = "900"

    response = coordinator.post(NEW, typed)

    assert 'href="#f-irrigations-3-peak-spv"' in response.content.decode()
    assert value_of(response, "irrigations.3.peak_spv") == "900"


def test_a_fault_in_the_temperature_of_all_rows_is_said_once_where_it_was_typed(
    coordinator: Any, typed: dict[str, str]
) -> None:
    response = coordinator.post(NEW, typed | {"warm_temperature_c": "20"})

    assert "1 thing to mend" in said(response)
    assert "Warm is set above 37 °C" in said(response)
    assert 'id="f-warm-temperature-c-problem"' in response.content.decode()


def test_a_fault_in_the_temperature_of_one_row_stays_with_that_row(
    coordinator: Any, typed: dict[str, str]
) -> None:
    own = {"irrigations.1.set_temperature_c": "20"}

    response = coordinator.post(NEW, typed | own)

    assert "1 thing to mend" in said(response)
    assert 'id="f-irrigations-1-set-temperature-c-problem"' in response.content.decode()


def test_what_looks_like_an_identifier_is_neither_stored_nor_shown_again(
    coordinator: Any, typed: dict[str, str]
) -> None:
    typed["subject_ref"] = "jane.doe@example.org"

    response = coordinator.post(NEW, typed)

    assert response.status_code == 422
    assert "jane.doe" not in response.content.decode()
    assert "looks like a name" in said(response)
    assert value_of(response, "visit_ref") == "V-KQMPX"


def test_typed_markup_comes_back_as_text(coordinator: Any, typed: dict[str, str]) -> None:
    typed["irrigations.0.peak_spv"] = '"><script>alert(1)</script>'

    response = coordinator.post(NEW, typed)

    assert "<script>" not in response.content.decode()
    assert "&lt;script&gt;" in response.content.decode()


def test_the_same_visit_again_is_said_and_another_one_of_its_code_refused(
    coordinator: Any, typed: dict[str, str]
) -> None:
    coordinator.post(NEW, typed)

    again = coordinator.post(NEW, typed, follow=True)
    other = coordinator.post(NEW, typed | {"age_years": "55"})

    assert "This visit was stored already." in said(again)
    assert other.status_code == 409
    assert "already stored with other content" in said(other)
    assert value_of(other, "age_years") == "55"
    assert len(stored(Visit)) == 1


def test_without_an_agreement_nothing_is_stored(
    make_network: Any, make_clinic: Any, make_member: Any, browser_of: Any, typed: dict[str, str]
) -> None:
    clinic = make_clinic("CL-N", network=make_network("NN", agreement=False))

    response = browser_of(make_member("coordinator", clinic)).post(NEW, typed)

    assert response.status_code == 409
    assert "no agreement in force" in said(response)
    assert not stored(Visit)


def test_new_codes_fill_only_what_is_blank_and_keep_everything_typed(
    coordinator: Any, typed: dict[str, str]
) -> None:
    typed["visit_ref"] = ""

    response = coordinator.post("/visits/new/codes/", typed)

    assert re.fullmatch(r"V-[B-Z]{13}", value_of(response, "visit_ref"))
    assert value_of(response, "subject_ref") == "S-HTKQB"
    assert value_of(response, "irrigations.0.peak_spv") == "28.4"
    assert not stored(Visit)


def test_a_time_typed_is_the_clinics_own_time_on_the_day_of_the_visit(
    make_clinic: Any, make_member: Any, browser_of: Any, typed: dict[str, str]
) -> None:
    clinic = make_clinic("CL-Z", time_zone="Asia/Tokyo")
    typed["irrigations.0.started_at"] = "09:10"

    browser_of(make_member("coordinator", clinic)).post(NEW, typed)

    started = next(one.started_at for one in stored(Irrigation) if one.started_at)
    assert started.isoformat() == "2026-03-02T00:10:00+00:00"


class TestAmending:
    @pytest.fixture
    def whole(self, make_clinic: Any, store: Any, make_member: Any, browser_of: Any) -> Any:
        """A browser, and the address of a stored visit that has a bit of everything."""
        clinic = make_clinic()
        visit_id = store(clinic, **worlds.whole())
        return browser_of(make_member("coordinator", clinic)), f"/visits/{visit_id}/amend/"

    def test_the_form_is_prefilled_and_sending_it_back_changes_nothing_but_the_version(
        self, whole: Any
    ) -> None:
        browser, address = whole
        before = [_content(one) for one in stored(Irrigation)]
        beats = [(one.time_s, one.spv) for one in stored(ResponseBeats)]

        response = browser.post(
            address, _texts(browser.get(address)) | {"amendment_reason": "reviewed"}
        )

        assert response.status_code == 302
        assert [_content(one) for one in stored(Irrigation)] == before
        assert [(one.time_s, one.spv) for one in stored(ResponseBeats)] == beats
        (visit,) = stored(Visit)
        assert (visit.version, visit.amendment_reason) == (2, "reviewed")

    def test_a_correction_is_stored_and_the_old_version_listed(self, whole: Any) -> None:
        browser, address = whole
        texts = _texts(browser.get(address))

        response = browser.post(
            address,
            texts | {"age_years": "45", "amendment_reason": "entry_error"},
            follow=True,
        )

        words = said(response)
        assert "45 years" in words
        assert "Version 1, replaced on" in words

    def test_without_a_reason_nothing_is_stored(self, whole: Any) -> None:
        browser, address = whole

        response = browser.post(address, _texts(browser.get(address)) | {"amendment_reason": ""})

        assert response.status_code == 422
        assert 'href="#f-amendment-reason"' in response.content.decode()
        assert stored(Visit)[0].version == 1

    def test_a_visit_changed_meanwhile_is_not_overwritten(self, whole: Any) -> None:
        browser, address = whole
        texts = _texts(browser.get(address)) | {"amendment_reason": "reviewed"}
        browser.post(address, texts)

        response = browser.post(address, texts | {"age_years": "45"})

        assert response.status_code == 409
        assert "Somebody changed this visit" in said(response)
        assert stored(Visit)[0].age_years == 54

    def test_an_unsigned_visit_is_prefilled_as_magnitudes(
        self, make_clinic: Any, store: Any, see: Any
    ) -> None:
        clinic = make_clinic()
        irrigations = worlds.irrigations(28.0, 20.0, 17.0, 6.0)
        irrigations[3]["beat_direction"] = "left"
        visit_id = store(clinic, sign_convention="unsigned", irrigations=irrigations)

        response = see(clinic, f"/visits/{visit_id}/amend/")

        assert value_of(response, "irrigations.3.peak_spv") == "6"


def _texts(response: Any) -> dict[str, str | list[str]]:
    """What a browser would send for a form that nobody touched."""
    page = response.content.decode()
    form = page[page.index("visit-form") :]
    texts: dict[str, str | list[str]] = {
        name: value
        for name, value in re.findall(r'<input[^>]*name="([^"]+)"[^>]*value="([^"]*)"', form)
        if name != "csrfmiddlewaretoken"
    }
    for name, options in re.findall(
        r'(?s)<select id="[^"]+" name="([^"]+)"[^>]*>(.*?)</select>', form
    ):
        chosen = re.search(r'value="([^"]*)" selected', options)
        texts[name] = chosen[1] if chosen else ""
    boxes = re.findall(r'type="checkbox" name="([^"]+)" value="([^"]+)" checked', form)
    for name in {
        name for name, _ in re.findall(r'type="checkbox" name="([^"]+)" value="([^"]+)"', form)
    }:
        texts[name] = [value for other, value in boxes if other == name]
    return texts


def _content(row: Any) -> dict[str, Any]:
    return {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields}


@pytest.mark.parametrize("address", [NEW, "/visits/new/codes/"])
def test_what_looks_like_an_identifier_is_not_shown_again_before_the_checks_either(
    address: str,
    make_network: Any,
    make_clinic: Any,
    make_member: Any,
    browser_of: Any,
    typed: dict[str, str],
) -> None:
    clinic = make_clinic("CL-N", network=make_network("NN", agreement=False))
    typed["subject_ref"] = "jane.doe@example.org"

    response = browser_of(make_member("coordinator", clinic)).post(address, typed)

    assert "jane.doe" not in response.content.decode()
    assert value_of(response, "visit_ref") == "V-KQMPX"
