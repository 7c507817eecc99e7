"""The results of one clinic, as the files that it would really send."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from registry.demo import shapes
from registry.demo.document import VisitWriter
from registry.demo.results import draw_results
from registry.demo.scenario import SEED, Clinic, Scenario
from registry.demo.streams import stream

FILE_VISITS: Final = 2_000
# A spreadsheet is what a clinic sends once, by hand, before its export works.
SPREADSHEET_VISITS: Final = 60

Shape = Callable[[list[dict[str, Any]]], bytes]
_SHAPES: Final[dict[str, tuple[str, Shape]]] = {
    "ndjson": ("ndjson", shapes.ndjson),
    "ndjson_gz": ("ndjson.gz", shapes.ndjson_gz),
    "long": ("csv", shapes.long_csv),
    "wide": ("csv", shapes.wide_csv),
    "xlsx": ("xlsx", shapes.wide_xlsx),
}


@dataclass(frozen=True, slots=True)
class DemoFile:
    """One file of a clinic: its name, its bytes, and how many visits they hold."""

    name: str
    content: bytes
    visits: int


def clinic_files(
    scenario: Scenario, clinic: Clinic, *, size: str, until: date, seed: int = SEED
) -> Iterator[DemoFile]:
    """Every result of a clinic in the two years that end the day before ``until``.

    In order of time, at most ``FILE_VISITS`` visits a file; the same bytes for the same
    arguments. ``size`` is a key of ``SIZES``.

    :raises KeyError: if there is no such size.
    """
    results = draw_results(scenario, clinic, size=size, until=until, seed=seed)
    writer = VisitWriter(clinic, results, until=until)
    rng = stream(scenario, clinic, "beats", seed)
    for number, (shape, first, end) in enumerate(_parts(clinic, results.diary.count), start=1):
        suffix, write = _SHAPES[shape]
        content = write([writer.document(visit, rng) for visit in range(first, end)])
        yield DemoFile(f"{clinic.code.lower()}-{number:02d}.{suffix}", content, end - first)


def _parts(clinic: Clinic, count: int) -> Iterator[tuple[str, int, int]]:
    """Shape, first visit and end of each file."""
    first, shape = 0, clinic.export.shape
    if shape == "xlsx_then_ndjson":
        first, shape = min(SPREADSHEET_VISITS, count), "ndjson"
        yield "xlsx", 0, first
    for start in range(first, count, FILE_VISITS):
        yield shape, start, min(start + FILE_VISITS, count)
