"""How a tester's irrigations went: repeats by reason, last digits, visits seen again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, Final
from uuid import UUID

import numpy as np
from django.db import connection

from analytics.models import RetestPair, StandOut
from analytics.statistics.digits import count_digits, digit_preference
from registry.caloric.vocabulary import REPEAT_REASONS_AVOIDABLE, REPEAT_REASONS_INDICATED

_QUERY: Final = Path(__file__).with_name("work.sql")
# Two results of one person differ by less than this many within-subject SD in 95 of 100 cases.
_SMALLEST_CHANGE: Final = 1.959963984540054 * 2**0.5
_NOT_SAID: Final = "-"


def work_of(
    clinic_id: int, tester_ids: Iterable[UUID], *, since: date
) -> dict[UUID, dict[str, Any]]:
    """Repeats, digits, retests and visits that stand out, by tester, from ``since`` on."""
    wanted = list(tester_ids)
    found = {tester: _nothing() for tester in wanted}
    with connection.cursor() as cursor:
        cursor.execute(_query(), {"clinic": clinic_id, "testers": wanted, "since": since})
        names = [column.name for column in cursor.description or ()]
        for values in cursor.fetchall():
            row = dict(zip(names, values, strict=True))
            if row["tester_id"] in found:
                found[row["tester_id"]] |= _irrigations(row)
    _add_retests(clinic_id, found, since)
    _add_stand_outs(clinic_id, found, since)
    return found


def _nothing() -> dict[str, Any]:
    return {
        "repeats": _repeats(Counter(), 0, 0, 0, 0),
        "digits": _digits([]),
        "retests": {"same_tester": _retest([]), "other_tester": _retest([])},
        "stand_outs": 0,
    }


def _irrigations(row: dict[str, Any]) -> dict[str, Any]:
    return {
        "repeats": _repeats(
            Counter(row["reasons"]),
            row["irrigations"],
            row["unusable"],
            row["visits"],
            row["visits_with_repeat"],
        ),
        "digits": _digits(row["peaks"] or []),
    }


def _repeats(
    reasons: Counter[str], irrigations: int, unusable: int, visits: int, visits_with: int
) -> dict[str, Any]:
    """Avoidable and indicated ones apart: the second kind, done, is care."""
    return {
        "irrigations": irrigations,
        "unusable": unusable,
        "visits": visits,
        "visits_with_repeat": visits_with,
        "avoidable": sum(reasons[one] for one in REPEAT_REASONS_AVOIDABLE),
        "indicated": sum(reasons[one] for one in REPEAT_REASONS_INDICATED),
        "other": reasons["other"],
        "without_reason": reasons[_NOT_SAID],
        "by_reason": {
            reason: count for reason, count in sorted(reasons.items()) if reason != _NOT_SAID
        },
    }


def _digits(peaks: Sequence[float]) -> dict[str, Any]:
    """Last digits of the tenths, and of the whole numbers; a score and what chance may give."""
    found = {}
    for name, step in (("tenths", "0.1"), ("units", "1")):
        values = np.array(peaks, dtype=np.float64)
        counts = count_digits(values if name == "tenths" else np.trunc(values), step=step)
        preference = digit_preference(counts)
        found[name] = {
            "counts": list(counts.counts),
            "peaks": preference.n,
            "score": preference.score,
            "score_by_chance": preference.score_by_chance,
            "zero_five_index": preference.zero_five_index,
        }
    return found


def _add_retests(clinic_id: int, found: dict[UUID, dict[str, Any]], since: date) -> None:
    pairs = RetestPair.objects.filter(
        clinic_id=clinic_id,
        tester_id__in=list(found),
        comparable=True,
        month__gte=since.replace(day=1),
        weakness__isnull=False,
        earlier_weakness__isnull=False,
    ).order_by("visit_id")
    groups: dict[tuple[UUID, str], list[tuple[float, float]]] = {}
    for pair in pairs:
        kind = "same_tester" if pair.tester_id == pair.earlier_tester_id else "other_tester"
        groups.setdefault((pair.tester_id, kind), []).append(
            (pair.earlier_weakness or 0.0, pair.weakness or 0.0)
        )
    for (tester, kind), values in groups.items():
        found[tester]["retests"][kind] = _retest(values)


def _retest(pairs: Sequence[tuple[float, float]]) -> dict[str, Any]:
    """Within-subject SD of the weakness from pairs, in points; the same tester's apart."""
    if len(pairs) < 2:
        return {"pairs": len(pairs), "within_subject_sd": None, "smallest_change": None}
    differences = np.array([later - earlier for earlier, later in pairs])
    sd = float(np.sqrt(np.mean(differences**2) / 2.0))
    return {
        "pairs": len(pairs),
        "within_subject_sd": sd,
        "smallest_change": _SMALLEST_CHANGE * sd,
    }


def _add_stand_outs(clinic_id: int, found: dict[UUID, dict[str, Any]], since: date) -> None:
    rows = StandOut.objects.filter(
        clinic_id=clinic_id, tester_id__in=list(found), visit_date__gte=since
    )
    for tester, count in Counter(rows.values_list("tester_id", flat=True)).items():
        found[tester]["stand_outs"] = count


@cache
def _query() -> str:
    return _QUERY.read_text()
