"""Every fault has a sentence, every sentence has a fault, and every fault is met in a test."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from registry.intake.checks import DETAIL, docs_table
from registry.intake.checks.catalogue import IN_A_RECORD, IN_A_VISIT, OF_A_FILE

HERE = Path(__file__).parent
INTAKE = HERE.parents[2] / "registry" / "intake"
OF_READERS = tuple(sorted(HERE.glob("test_reader*.py")))
OF_CHECKS = tuple(sorted(HERE.glob("test_checks*.py")))
QUOTED = re.compile(r"\"([a-z0-9_]+)\"")


def words_in(files: tuple[Path, ...]) -> set[str]:
    return {word for file in files for word in QUOTED.findall(file.read_text())}


def test_every_code_is_yielded_in_a_test() -> None:
    this = Path(__file__)
    met = words_in(tuple(file for file in OF_READERS + OF_CHECKS if file != this))

    assert set(DETAIL) - met == set()


def test_every_code_is_raised_somewhere_in_the_intake() -> None:
    folders = [INTAKE / "readers", INTAKE / "checks"]
    files = [file for folder in folders for file in folder.rglob("*.py")]
    raised = words_in(tuple(file for file in files if file.name != "catalogue.py"))
    made = {f"unknown_{kind}" for kind in ("tester", "irrigator", "recorder")}
    guarded = {"looks_like_identifier"}

    assert set(DETAIL) - raised - made - guarded == set()


@pytest.mark.parametrize("code", DETAIL)
def test_every_sentence_says_what_is_wrong_and_what_to_do(code: str) -> None:
    detail = DETAIL[code]

    assert re.fullmatch(r"[a-z0-9_]+", code)
    assert detail[0].isupper()
    assert detail.endswith(".")
    assert detail.count(". ") >= 1
    assert "{" not in detail
    assert "%" not in detail


def test_no_code_means_two_things() -> None:
    assert len(IN_A_VISIT) + len(IN_A_RECORD) + len(OF_A_FILE) == len(DETAIL)


def test_the_table_of_the_documentation_has_a_row_for_every_code() -> None:
    rows = [line for line in docs_table().splitlines() if line.startswith("| `")]

    assert [row.split("`")[1] for row in rows] == list(DETAIL)
    assert all(row.count("|") == 4 for row in rows)
