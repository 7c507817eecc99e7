"""A summary as the JSON body that readers get."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final
from uuid import UUID

from analytics.measures import Measure, catalogue
from analytics.models import LookBack
from analytics.summaries.codes import codes_of
from analytics.summaries.reading import Summary
from registry.models import Irrigator, Recorder, Tester

Body = dict[str, Any]

# What a build found; hidden where too few other clinics stand behind it.
COMPARED: Final = (
    "expected",
    "shrunken",
    "z_level",
    "z_change",
    "smallest_level",
    "smallest_change",
)
# Outside the owning clinic nothing is shown that rests on fewer visits.
SMALLEST_CELL: Final = 11
_OF_IRRIGATOR: Final = ("checks", "drift")


def summary_json(summary: Summary) -> Body:
    """The whole body: every measure of the catalogue for this kind of subject, in its order.

    A figure on fewer visits than its measure needs is null and ``too_few`` is true.
    """
    row = summary.row
    figures: Body = row.figures if row else {}
    return {
        "subject": {
            "kind": summary.kind,
            "id": str(summary.id),
            "code": summary.code,
            "clinic": summary.clinic.code,
        },
        "built_at": row.built_at if row else None,
        "covers_until": row.covers_until if row else None,
        "stale": summary.stale,
        "months": figures.get("months", []),
        "visits": figures.get("visits", []),
        "measures": measures_json(summary),
        **_shares(summary, figures),
        **_of_kind(summary, figures),
    }


def measures_json(summary: Summary) -> list[Body]:
    """The measures of a subject in the order of the catalogue."""
    row = summary.row
    figures = row.figures.get("measures", {}) if row else {}
    compared = row.compared if row else {}
    return [
        _measure(measure, figures.get(measure.id, {}))
        | {
            "by_month": _by_month(summary, measure, figures.get(measure.id, {})),
            "compared": _compared(summary, measure, compared.get(measure.id, {})),
        }
        for measure in catalogue().of(summary.kind)
    ]


def _measure(measure: Measure, figures: Body) -> Body:
    n = figures.get("n", 0.0)
    too_few = n < measure.minimum_visits
    shown: Body = {
        name: None if too_few else figures.get(name)
        for name in ("value", "low", "high", "like_for_like")
    }
    return {
        "id": measure.id,
        "title": measure.title,
        "group": measure.group,
        "kind": measure.kind,
        "unit": measure.unit,
        "direction": measure.direction,
        "minimum_visits": measure.minimum_visits,
        "n": n,
        "too_few": too_few,
        **shown,
    }


def _by_month(summary: Summary, measure: Measure, figures: Body) -> Body:
    """Month by month; a year on too few visits is not made up for by its months.

    Outside the clinic a month's occasions and its visits must both be enough: four irrigations
    make one visit, and many visits may hold few occasions.
    """
    if summary.row is None or not figures:
        return {"n": [], "value": []}
    n, values = figures["by_month"]["n"], figures["by_month"]["value"]
    fewest = SMALLEST_CELL if summary.outside else 0
    if figures["n"] < measure.minimum_visits:
        return {"n": n, "value": [None] * len(n)}
    return {
        "n": n,
        "value": [
            value if min(count, visits) >= fewest else None
            for count, visits, value in zip(n, summary.row.figures["visits"], values, strict=True)
        ],
    }


def _compared(summary: Summary, measure: Measure, compared: Body) -> Body:
    shown = {name: compared.get(name) for name in COMPARED}
    reasons = {name: compared.get(name) for name in ("reason", "reason_change")}
    if summary.comparable is not None and measure.id not in summary.comparable:
        shown = dict.fromkeys(COMPARED)
        reasons = dict.fromkeys(reasons, "too_few_clinics")
    return shown | reasons | {"tier": compared.get("tier")}


def _shares(summary: Summary, figures: Body) -> Body:
    """With whom and what the visits were done, by the clinic's own codes."""
    clinic_ids = [summary.clinic.pk]
    found: Body = {
        name: _named(figures.get(name) or [], codes_of(model, clinic_ids))
        for name, model in (("irrigators", Irrigator), ("recorders", Recorder))
    }
    if summary.kind != "tester":
        found["testers"] = _named(figures.get("testers") or [], codes_of(Tester, clinic_ids))
    found["strata"] = [
        {"code": one["id"], "visits": one["visits"]} for one in figures.get("strata") or []
    ]
    return found


def _named(shares: Iterable[Body], codes: dict[UUID, str]) -> list[Body]:
    return [
        {"id": one["id"], "code": codes.get(UUID(one["id"])), "visits": one["visits"]}
        for one in shares
    ]


def _of_kind(summary: Summary, figures: Body) -> Body:
    if summary.kind == "tester":
        return _work(figures, fewest=SMALLEST_CELL if summary.outside else 0)
    if summary.kind == "irrigator":
        look_backs = LookBack.objects.filter(
            clinic_id=summary.clinic.pk, irrigator_id=summary.id
        ).count()
        return {name: figures.get(name, []) for name in _OF_IRRIGATOR} | {"look_backs": look_backs}
    return {}


def _work(figures: Body, *, fewest: int) -> Body:
    """Repeats, last digits, retests and visits that stand out; null before any was summed."""
    work = {name: figures.get(name) for name in ("repeats", "digits", "retests", "stand_outs")}
    if work["repeats"] and work["repeats"]["visits"] < fewest:
        work |= {"repeats": None, "digits": None, "stand_outs": None}
    if work["retests"]:
        work["retests"] = {
            kind: one if one["pairs"] >= fewest else dict.fromkeys(one) | {"pairs": one["pairs"]}
            for kind, one in work["retests"].items()
        }
    return work
