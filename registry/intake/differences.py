"""What a recomputation changed and by how much: index by index, code by code."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from registry.models import VisitResult
from registry.models.result import INDEX_NUMBERS

# A difference of the last bit comes from another processor, not from another method.
NEGLIGIBLE: Final = 1e-9
_WORDS: Final = ("lower_side", "preponderance_direction", "undefined_reason")
_KEPT_AS_JSON: Final = ("assessments", "findings", "indices_first_attempt")
_STAMPS: Final = ("method_version", "criteria_set_id")

Summary = dict[str, Any]


@dataclass(slots=True)
class Differences:
    """Counts over some visits; ``added_to`` merges them into the summary of a run."""

    visits_changed: int = 0
    indices: dict[str, dict[str, float]] = field(default_factory=dict)
    codes: dict[str, dict[str, int]] = field(default_factory=dict)

    def note(self, old: VisitResult | None, new: Mapping[str, Any]) -> bool:
        """Compare a stored result with a fresh one; True when the fresh one must be stored."""
        if old is None:
            self.visits_changed += 1
            return True
        moved = [name for name in INDEX_NUMBERS if self._number(name, getattr(old, name), new)]
        moved += [name for name in _WORDS if getattr(old, name) != new[name]]
        moved += [name for name in _KEPT_AS_JSON if getattr(old, name) != _parsed(new[name])]
        self._codes("assessments", old.assessment_codes, new["assessment_codes"])
        self._codes("findings", old.finding_codes, new["finding_codes"])
        self.visits_changed += bool(moved)
        return bool(moved) or any(getattr(old, name) != new[name] for name in _STAMPS)

    def _number(self, name: str, old: float | None, row: Mapping[str, Any]) -> bool:
        new = row[name]
        if old is None and new is None:
            return False
        if old is not None and new is not None and abs(new - old) <= NEGLIGIBLE:
            return False
        entry = self.indices.setdefault(name, {"changed": 0, "largest": 0.0, "undefined_flips": 0})
        entry["changed"] += 1
        if old is None or new is None:
            entry["undefined_flips"] += 1
        else:
            entry["largest"] = max(entry["largest"], abs(new - old))
        return True

    def _codes(self, kind: str, old: list[str], new: list[str]) -> None:
        for sign, gone in (("gained", set(new) - set(old)), ("lost", set(old) - set(new))):
            for code in gone:
                entry = self.codes.setdefault(f"{kind}.{code}", {"gained": 0, "lost": 0})
                entry[sign] += 1

    def added_to(self, summary: Summary) -> Summary:
        """The summary with these counts in it: sums, and the largest difference of all."""
        indices: dict[str, Any] = dict(summary.get("indices", {}))
        codes: dict[str, Any] = dict(summary.get("codes", {}))
        for name, entry in self.indices.items():
            past = indices.get(name, {"changed": 0, "largest": 0.0, "undefined_flips": 0})
            indices[name] = {
                "changed": past["changed"] + entry["changed"],
                "largest": max(past["largest"], entry["largest"]),
                "undefined_flips": past["undefined_flips"] + entry["undefined_flips"],
            }
        for code, counts in self.codes.items():
            before = codes.get(code, {"gained": 0, "lost": 0})
            codes[code] = {sign: before[sign] + counts[sign] for sign in before}
        return {"indices": indices, "codes": codes}


def _parsed(text: str | None) -> Any:
    return None if text is None else json.loads(text)
