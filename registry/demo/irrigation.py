"""The irrigations of one visit as a clinic's system writes them down."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, Final

import numpy as np

from registry.demo.course import ICE, REPEATS, Course
from registry.demo.faults import ROUNDED_PEAKS
from registry.demo.physiology import FIXATION_S, draw_beats, envelope
from registry.demo.results import Results
from registry.demo.scenario import Clinic
from registry.demo.signs import EARS, STIMULI, expected_beat, sent_sign

Document = dict[str, Any]
# The peak that counts of each cell (right warm, left warm, right cool, left cool), in deg/s,
# positive as expected by its label.
Counted = dict[int, float]

_SHORT_REST_SHARE: Final = 0.04
_OFF_DURATION_SHARE: Final = 0.012
_VERTICAL_SHARE: Final = 0.004
_BEATS_ALONE_SHARE: Final = 0.2


def irrigation_documents(
    clinic: Clinic,
    results: Results,
    course: Course,
    *,
    visit: int,
    begins: datetime,
    exchanged: bool,
    rng: np.random.Generator,
) -> tuple[list[Document], Counted]:
    """Every irrigation in order of time, and the peaks that count, for the printed figures."""
    export = clinic.export
    row = _Row(clinic, results, visit, exchanged, rng.random((len(course.columns), 8)).tolist())
    begins_at = begins
    attempts: dict[tuple[int, int], int] = {}
    documents: list[Document] = []
    counted: Counted = {}
    for place, column in enumerate(course.columns):
        ear, stimulus = row.label(column)
        attempt = attempts[ear, stimulus] = attempts.get((ear, stimulus), 0) + 1
        document: Document = {
            "ear": EARS[ear],
            "stimulus": STIMULI[stimulus],
            "attempt": attempt,
            "order_in_visit": place + 1,
        }
        if export.times:
            document["started_at"] = begins_at.isoformat(timespec="seconds")
        document |= row.delivery(place, column)
        document |= row.outcome(place, column, course)
        if column in REPEATS and course.repeat_reasons.get(column):
            document["repeat_reason"] = course.repeat_reasons[column]
        if course.counts_first and attempt == 1 and _repeated(course, row, ear, stimulus):
            document["counts"] = True
        if column not in ICE and column not in course.unusable:
            cell = stimulus * 2 + ear
            if not (course.counts_first and cell in counted):
                counted[cell] = row.expected_peak(column)
        documents.append(document)
        begins_at += timedelta(seconds=row.lasts(place) + row.rest(place))
    if export.beats and results.with_beats[visit]:
        _add_beats(clinic, results, course, row, documents, rng)
        if rng.random() < _BEATS_ALONE_SHARE:
            _leave_out_peaks(documents)
            counted = {}
    return documents, counted


def _repeated(course: Course, row: _Row, ear: int, stimulus: int) -> bool:
    return any(row.label(column) == (ear, stimulus) for column in course.repeat_reasons)


class _Row:
    """What one visit's irrigations share; ``dice`` holds eight random numbers for each."""

    def __init__(
        self,
        clinic: Clinic,
        results: Results,
        visit: int,
        exchanged: bool,
        dice: list[list[float]],
    ) -> None:
        self._export = clinic.export
        self._settings = clinic.settings
        self._irrigator = clinic.irrigators[int(results.diary.irrigator[visit])]
        self._tester = clinic.testers[int(results.diary.tester[visit])].code
        self.visit = visit
        self._exchanged = exchanged
        self._dice = dice
        self._ear = results.plan.ear[visit].tolist()
        self._stimulus = results.plan.stimulus[visit].tolist()
        self._set_c = results.set_c[visit].tolist()
        self._delivered_c = results.delivered_c[visit].tolist()
        self._beating: list[float] = (results.peak[visit] * results.expected[visit]).tolist()
        self.culmination_s = 62.0 + 26.0 * dice[0][7]
        self.fixation = float(results.people.fixation[visit])

    def label(self, column: int) -> tuple[int, int]:
        """Ear and stimulus as labelled, which is not always as irrigated."""
        return self._ear[column] ^ self._exchanged, self._stimulus[column]

    def sent_sign(self, column: int) -> float:
        return sent_sign(self._export.sign_convention, *self.label(column))

    def beating(self, column: int) -> float:
        """The peak as entered, positive when it beats right."""
        if self._tester == ROUNDED_PEAKS.tester:
            return ROUNDED_PEAKS.step * round(self._beating[column] / ROUNDED_PEAKS.step)
        return round(self._beating[column], self._export.decimals)

    def expected_peak(self, column: int) -> float:
        return self.beating(column) * expected_beat(*self.label(column))

    def lasts(self, place: int) -> int:
        off = self._dice[place][0] < _OFF_DURATION_SHARE
        spread = 14.0 if off else 3.0
        return round(self._irrigator.delivery.duration_s + spread * (self._dice[place][1] - 0.5))

    def rest(self, place: int) -> int:
        """Seconds from the end of this irrigation to the start of the next."""
        usual, dice = self._settings.rest_s, self._dice[place]
        if self._settings.rest_measured == "start_to_start":
            usual -= self.lasts(place)
        if dice[2] < _SHORT_REST_SHARE:
            return round(usual * (0.6 + 0.35 * dice[3]))
        return round(usual + 5 + 45 * dice[3])

    def delivery(self, place: int, column: int) -> Document:
        """Temperature, duration and volume."""
        sent: Document = {"duration_s": self.lasts(place)}
        if self._stimulus[column] == 2:
            return sent | {"position": "supine_head_up"}
        sent["set_temperature_c"] = self._set_c[column]
        measured_by = self._export.measured_by
        if measured_by is not None:
            # A display shows what its own sensor believes: it does not see a drift.
            display = measured_by == "irrigator_display"
            base = self._set_c[column] if display else self._delivered_c[column]
            sent["measured_temperature_c"] = round(base + 0.2 * (self._dice[place][4] - 0.5), 1)
            sent["measured_by"] = measured_by
        if self._irrigator.delivery.volume_ml is not None:
            sent["volume_ml"] = self._irrigator.delivery.volume_ml
        return sent

    def outcome(self, place: int, column: int, course: Course) -> Document:
        """The response, or why it could not be used."""
        if column in course.unusable:
            return {"usable": False, "unusable_reason": [course.unusable[column]]}
        export, beating = self._export, self.beating(column)
        sent: Document = {"peak_spv": beating * self.sent_sign(column) + 0.0}
        if export.peak_basis is not None:
            sent["peak_basis"] = export.peak_basis
        if export.directions and beating:
            sent["beat_direction"] = "right" if beating > 0 else "left"
        if export.fixation is not None:
            sent |= self._fixation(place, column)
        if export.recording and self._dice[place][6] < _VERTICAL_SHARE:
            sent["vertical_component"] = "down_beating"
        return sent

    def _fixation(self, place: int, column: int) -> Document:
        before = self._beating[column] * float(
            envelope(np.array(FIXATION_S[0] - 1.0), np.array(self.culmination_s))
        )
        share = self.fixation + 0.1 * (self._dice[place][5] - 0.5)
        sign, decimals = self.sent_sign(column), self._export.decimals
        sent = {"fixation_spv": round(before * share * sign, decimals) + 0.0}
        if self._export.fixation == "pair":
            sent["pre_fixation_spv"] = round(before * sign, decimals) + 0.0
        return sent


def _add_beats(
    clinic: Clinic,
    results: Results,
    course: Course,
    row: _Row,
    documents: list[Document],
    rng: np.random.Generator,
) -> None:
    """Add the beats of usable irrigations."""
    visit = row.visit
    places = [p for p, column in enumerate(course.columns) if column not in course.unusable]
    columns = [course.columns[p] for p in places]
    sign = np.array([row.sent_sign(c) for c in columns])
    expected = results.expected[visit, columns]
    held = 0.0 if clinic.export.spontaneous == "removed" else results.people.spontaneous[visit]
    beats = draw_beats(
        rng,
        results.response[visit, columns] * expected * sign,
        held * sign,
        np.full(len(columns), row.culmination_s),
        row.fixation if clinic.export.fixation else None,
    )
    for place, (time_s, spv) in zip(places, beats, strict=True):
        document = documents[place]
        document["beats"] = {"time_s": time_s, "spv": spv}
        if "fixation_spv" in document:
            document["fixation_from_s"], document["fixation_to_s"] = FIXATION_S


def _leave_out_peaks(documents: list[Document]) -> None:
    """Send the beats alone, as a system does that reads no peak.

    The directions go too: one read off by eye could contradict the peak that is computed.
    """
    for document in documents:
        for name in ("peak_spv", "peak_basis", "beat_direction"):
            document.pop(name, None)
