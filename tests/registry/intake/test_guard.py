"""The identifier guard and the codes the registry mints.

Sources: 45 CFR 164.514(b)(2) (names, all elements of dates but the year, e-mail addresses and
record numbers are identifiers) and 164.514(c) (no code derived from the person). The check
character: ISO/IEC 7064:2003 MOD 37,36, with two published identifiers that carry one.
"""

from __future__ import annotations

import random
import re
import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.intake.guard import CODE_PATTERN, is_code, looks_like_identifier
from registry.intake.subject_codes import (
    ALPHABET,
    NoRandomness,
    PrefixNotAllowed,
    check_character,
    check_character_ok,
    mint,
)

EMAIL = ["someone@example.org", "a@b", "V-1@clinic"]
WHITE_SPACE = ["V KQMPX", "V-KQ\tMPX", "V-KQMPX\n", "V\u00a0KQMPX", " V-KQMPX"]
NUMERIC_DATES = [
    "20260302",
    "2026-03-02",
    "2026.03.02",
    "2026_3_2",
    "02.03.26",
    "02-03-2026",
    "3/2/1990",
    "3/2/90",
    "3-2-90",
    "V-3-2-90",
    "90.2.3",
    "31-12-45",
    "31-1-45",
    "1-31-45",
    "S-12-03-45",
    "1-40-3-2-90",
    "020390",
    "V020390X",
    "03-1990",
    "1990-03",
    "1990.3",
    "2026-061",
    "2.III.90",
]
WRITTEN_DATES = [
    "02MAR1990",
    "02mar90",
    "2-Mar-90",
    "2-Mar",
    "Mar90",
    "MAR-1990",
    "March02",
    "Mar-2-90",
    "1990-Mar-2",
    "1990MAR02",
    "S-02MAR90-X",
    "12-May",
    "2.mai.90",
    "3-okt-1990",
    "05août90",
    "5-set-90",
    "1-märz-90",
]
MANY_DIGITS = [
    "123456",
    "V-123-456",
    "1A2B3C4D5E6F",
    "00012345",
    "V-\uff11\uff12\uff13\uff14\uff15\uff16",
]
WORDS = ["smith-john", "Smith.J.John", "anna_maria", "van-den-berg", "MAYER-KQX", "smith01-john2"]
RANDOM_CODES = [
    "V-KQMPX",
    "S-HTKQB",
    "T-07",
    "IR-2",
    "RC-1",
    "TH-12",
    "HTK4-QBW7",
    "K7Q-2MX",
    "S-2041",
    "S-12-V-03",
    "R-12-03",
    "v1.2.3",
    "1.2.3",
    "99-99",
    "32-1-45",
    "0-1-45",
    "A1B2C3D4E5",
    "MARK-02",
    "DECK7",
    "set-12",
    "V-MARQ7",
    "2026-W",
]


@pytest.mark.parametrize("text", EMAIL + WHITE_SPACE + NUMERIC_DATES + WRITTEN_DATES)
def test_addresses_spaces_and_dates_look_like_an_identifier(text: str) -> None:
    assert looks_like_identifier(text)


@pytest.mark.parametrize("text", MANY_DIGITS)
def test_more_than_five_digits_look_like_a_record_number(text: str) -> None:
    assert looks_like_identifier(text)


@pytest.mark.parametrize("text", WORDS)
def test_two_words_joined_look_like_a_name(text: str) -> None:
    assert looks_like_identifier(text)


@pytest.mark.parametrize("text", RANDOM_CODES)
def test_short_random_codes_pass(text: str) -> None:
    assert not looks_like_identifier(text)


def test_exactly_five_digits_pass_and_six_do_not() -> None:
    assert not looks_like_identifier("V-41829")
    assert looks_like_identifier("V-418296")


@given(st.dates(), st.sampled_from(["%Y-%m-%d", "%d.%m.%Y", "%m/%d/%y", "%d%b%Y", "%b-%d-%y"]))
def test_every_day_of_the_calendar_is_seen_in_every_usual_form(day: object, form: str) -> None:
    text = format(day, form)

    assert looks_like_identifier(text)
    assert looks_like_identifier(f"S-{text}")
    assert looks_like_identifier(f"{text}_K")


@given(st.randoms(use_true_random=False), st.text(string.ascii_uppercase, min_size=1, max_size=2))
def test_a_minted_code_is_never_refused(source: random.Random, prefix: str) -> None:
    code = mint(prefix, source.randbytes)

    assert not looks_like_identifier(code)
    assert is_code(code)
    assert check_character_ok(code)


def test_random_codes_of_a_clinic_are_hardly_ever_refused() -> None:
    source = random.Random(7)
    letters = string.ascii_uppercase + string.digits
    codes = ["S-" + "".join(source.choices(letters, k=6)) for _ in range(5_000)]

    refused = sum(map(looks_like_identifier, codes))

    # Six digits in a row of six have a chance of 0.05 %, a day and a month far less.
    assert refused < 15


@pytest.mark.parametrize("text", ["ab", "a" * 41, "V-KÄPX", "V/KQ", "", "V-KQMPX\n"])
def test_what_is_not_written_as_a_code_is_told_apart(text: str) -> None:
    assert not is_code(text)


def test_the_published_pattern_takes_what_the_guard_calls_a_code() -> None:
    for text in ("V-KQMPX", "a.b", "x" * 40, "ab", "x" * 41, "V KQ", "V@KQ"):
        assert (re.search(CODE_PATTERN, text) is not None) == is_code(text)


def test_check_characters_agree_with_published_identifiers() -> None:
    # Global Release Identifier A1-2425G-ABC1234002-M and ISAN 0000-0000-D07A-0090-Q, the
    # examples of their standards (recalled, not read); both use ISO 7064 MOD 37,36.
    assert check_character("A12425GABC1234002") == "M"
    assert check_character("00000000D07A0090") == "Q"


def test_every_single_wrong_letter_is_caught() -> None:
    code = mint("S", random.Random(1).randbytes)

    wrong = [
        code[:at] + letter + code[at + 1 :]
        for at in range(2, len(code))
        for letter in ALPHABET
        if letter != code[at]
    ]

    assert len(wrong) == 13 * 17
    assert not any(map(check_character_ok, wrong))


def test_a_wrong_prefix_is_caught() -> None:
    code = mint("S", random.Random(1).randbytes)

    assert not check_character_ok("V" + code[1:])


def test_nearly_all_swaps_of_neighbours_are_caught() -> None:
    source = random.Random(2)
    swapped = missed = 0
    for code in (mint("S", source.randbytes) for _ in range(200)):
        for at in range(2, len(code) - 1):
            wrong = code[:at] + code[at + 1] + code[at] + code[at + 2 :]
            swapped += wrong != code
            missed += wrong != code and check_character_ok(wrong)

    assert swapped > 2_000
    assert missed / swapped < 0.02


def test_a_clinics_own_code_has_no_check_character() -> None:
    assert not check_character_ok("S-HTKQB")


def test_minted_codes_use_every_letter_about_equally_often() -> None:
    source = random.Random(3)
    letters = "".join(mint("S", source.randbytes)[2:-1] for _ in range(3_000))

    shares = [letters.count(letter) / len(letters) for letter in ALPHABET]

    assert min(shares) > 0.9 / 18
    assert max(shares) < 1.1 / 18


def test_minted_codes_differ() -> None:
    assert len({mint("V") for _ in range(2_000)}) == 2_000


@pytest.mark.parametrize("prefix", ["", "SUB", "s", "1", "S-"])
def test_a_prefix_that_would_read_as_a_word_is_not_allowed(prefix: str) -> None:
    with pytest.raises(PrefixNotAllowed):
        mint(prefix)


@pytest.mark.parametrize("byte", [252, 253, 254, 255])
def test_bytes_that_would_favour_the_first_letters_are_not_used(byte: int) -> None:
    """256 is no multiple of 18, so the last four values would make four letters likelier."""
    with pytest.raises(NoRandomness):
        mint("S", lambda n: bytes([byte]) * n)


def test_a_source_that_is_not_random_does_not_hang() -> None:
    with pytest.raises(NoRandomness):
        mint("S", lambda n: b"\xff" * n)
