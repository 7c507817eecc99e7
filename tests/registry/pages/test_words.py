"""Every code that a page may show has plain words."""

from __future__ import annotations

import re

import pytest

from registry.access.roles import ROLES
from registry.caloric import vocabulary
from registry.caloric.criteria import LIMIT_CODES
from registry.intake.fields import GROUPS, IRRIGATION_FIELDS, VISIT_FIELDS
from registry.models.upload import POLICIES, STATES
from registry.models.visit import RECEIVED_VIA
from registry.pages.finding_words import said_finding
from registry.pages.help import _LIMITS
from registry.pages.labels import LABELS
from registry.pages.templatetags.registry_words import marked
from registry.pages.words import FIELD_WORDS, irrigation_name, say

_FIELDS = [
    (name, field)
    for name, field in [
        *((one.name, one) for one in (*VISIT_FIELDS, *IRRIGATION_FIELDS)),
        *((f"{group}.{one.name}", one) for group, fields in GROUPS.items() for one in fields),
    ]
]
_LISTS = {
    "role": ROLES,
    "upload_state": STATES,
    "upload_policy": POLICIES,
    "received_via": RECEIVED_VIA,
    "undefined_reason": vocabulary.UNDEFINED_REASONS,
    "assessment": vocabulary.ASSESSMENTS,
    "finding": vocabulary.FINDINGS,
    "amendment_reason": vocabulary.AMENDMENT_REASONS,
    "experience_band": vocabulary.EXPERIENCE_BANDS,
    "measured_at": vocabulary.CHECK_PLACES,
    "phase": vocabulary.CHECK_PHASES,
    "action": vocabulary.CHECK_ACTIONS,
    "equipment_event": vocabulary.EQUIPMENT_EVENTS,
    "protocol_done": vocabulary.PROTOCOLS_DONE,
    "peak_basis": vocabulary.PEAK_BASES,
}


def test_back_ticks_mark_code_and_everything_else_is_escaped() -> None:
    assert marked("`not_json`: <b> & `a<b`") == (
        "<code>not_json</code>: &lt;b&gt; &amp; <code>a&lt;b</code>"
    )


@pytest.mark.parametrize(("name", "field"), _FIELDS, ids=[name for name, _ in _FIELDS])
def test_every_word_of_a_field_has_plain_words_and_the_field_a_label(
    name: str, field: object
) -> None:
    missing = [word for word in field.words if word not in FIELD_WORDS.get(name, {})]

    assert not missing
    assert name in LABELS or name.rpartition(".")[2] in LABELS


@pytest.mark.parametrize("kind", sorted(_LISTS))
def test_a_closed_list_is_said_whole_and_nothing_beyond_it(kind: str) -> None:
    assert set(FIELD_WORDS[kind]) == set(_LISTS[kind])


def test_every_limit_of_a_criteria_set_stands_on_the_help_page() -> None:
    assert set(_LIMITS) == set(LIMIT_CODES)


@pytest.mark.parametrize("code", vocabulary.FINDINGS)
def test_every_finding_is_one_sentence_without_a_bare_sign(code: str) -> None:
    details = {
        "mixed_medium": "between_ears",
        "labels_possibly_exchanged": "ears",
        "reported_value_differs": "unilateral_weakness_percent:equals_clamped",
        "open_water_with_open_drum": "perforation",
        "vertical_component_present": "up_beating",
        "unequal_set_temperature": "warm",
    }
    finding = {
        "code": code,
        "irrigation": "left_warm_2",
        "detail": details.get(code),
        "value": -7.25,
        "limit": -5.0,
    }

    found = said_finding(finding)

    assert found.where == "left ear, warm, attempt 2"
    assert found.sentence.endswith(".")
    assert not re.search(r"not known (deg|s\b|°C|times)", found.sentence)
    assert not re.search(r"(?<![\w)])[-+\u2212]\d", found.sentence)


def test_nothing_is_said_as_not_recorded_and_a_new_code_is_not_hidden() -> None:
    assert say("medium", None) == "not recorded"
    assert say("medium", "steam_jet") == "steam jet"


def test_an_irrigation_is_named_by_ear_and_stimulus_in_words() -> None:
    assert irrigation_name("right_cool_1") == "right ear, cool"
    assert irrigation_name(None) == "the whole visit"


def test_no_words_call_anything_normal_or_name_a_patient() -> None:
    every = " ".join(words for kind in FIELD_WORDS.values() for words in kind.values())

    assert not re.search(r"\b(normal|abnormal|healthy|patient|diagnos\w*)\b", every, re.IGNORECASE)
