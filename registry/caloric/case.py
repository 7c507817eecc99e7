"""All that is known of one computed visit: what findings and assessments are read from."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import tzinfo
from typing import Final

from registry.caloric.criteria import CriteriaSet
from registry.caloric.equipment import TemperatureReading
from registry.caloric.indices import Indices
from registry.caloric.peaks import BeatPeak
from registry.caloric.procedure import Procedure
from registry.caloric.responses import (
    LEFT_BEATING_CELLS,
    RIGHT_BEATING_CELLS,
    right_beating_sign,
)
from registry.caloric.spontaneous import handling, recorded_spontaneous, responses_without
from registry.caloric.visit import Irrigation, Visit
from registry.caloric.vocabulary import OPEN_DRUM

OPEN_DRUMS: Final = frozenset(OPEN_DRUM)


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One visit with its indices and the rules that apply to it.

    ``visit`` is normalised and its missing peaks are filled in; ``sent_peaks`` are the peaks
    before that, ``beat_peaks`` what its beats say, both by irrigation name. ``checks`` is
    ``None`` where nothing is known of the equipment at all.
    """

    visit: Visit
    counted: Mapping[str, Irrigation]
    counting_names: frozenset[str]
    protocol_done: str
    indices: Indices
    criteria: CriteriaSet
    procedure: Procedure
    checks: Sequence[TemperatureReading] | None
    tz: tzinfo
    beat_peaks: Mapping[str, BeatPeak]
    sent_peaks: Mapping[str, float]
    directions_known: bool

    def medium(self, irrigation: Irrigation) -> str:
        """Medium of this irrigation: its own where it names one, else the visit's."""
        return irrigation.medium or self.visit.medium

    def drum(self, ear: str) -> str | None:
        """What otoscopy found in that ear; ``None``: not recorded."""
        otoscopy = self.visit.otoscopy
        if otoscopy is None:
            return None
        return otoscopy.right if ear == "right" else otoscopy.left

    def is_inverted(self, irrigation: Irrigation) -> bool:
        """Below -2 deg/s once the spontaneous nystagmus is out, whatever is unknown about it.

        Where it is not known how the response beat, it is neither inverted nor not inverted.
        """
        if not self._direction_known(irrigation):
            return False
        limit = -self.procedure.inverted_beyond_deg_s - 1e-9
        without = responses_without(self.visit, irrigation)
        return bool(without) and max(without) < limit

    def inverted_cells(self) -> frozenset[str]:
        """Cells whose counted response is inverted."""
        return frozenset(cell for cell, one in self.counted.items() if self.is_inverted(one))

    def an_inversion_is_certain(self) -> bool:
        """Whether a counted response is inverted, be the spontaneous nystagmus what it may.

        It adds to the right-beating cells what it takes from the left-beating ones, so it can
        explain a negative in the one pair only by as much as the other pair allows (derived).
        """
        known = {cell: one.peak_spv for cell, one in self.counted.items()}
        lowest = [
            min((peak for cell in cells if (peak := known.get(cell)) is not None), default=math.inf)
            for cells in (RIGHT_BEATING_CELLS, LEFT_BEATING_CELLS)
        ]
        return sum(lowest) < -2.0 * self.procedure.inverted_beyond_deg_s - 1e-9

    def a_negative_is_possible(self) -> bool:
        """Whether a counted response of unknown direction may have beaten the other way.

        It may where an open drum can invert it, where the spontaneous nystagmus is unknown, or
        where that nystagmus is strong enough to turn a response of this size (derived).
        """
        return not self.directions_known and any(
            not self._direction_known(one) and self._may_be_negative(one)
            for one in self.counted.values()
        )

    def _direction_known(self, irrigation: Irrigation) -> bool:
        return self.directions_known or irrigation.beat_direction is not None

    def _may_be_negative(self, irrigation: Irrigation) -> bool:
        if not irrigation.peak_spv:
            return False
        if self.drum(irrigation.ear) in OPEN_DRUMS:
            return True
        limit = self.procedure.inverted_beyond_deg_s
        if handling(self.visit) == "removed":
            against = 0.0
        else:
            spontaneous = recorded_spontaneous(self.visit)
            if spontaneous is None:
                return True
            against = -right_beating_sign(irrigation) * spontaneous
            if handling(self.visit) == "unknown":
                against = max(against, 0.0)
        return irrigation.peak_spv <= limit + against
