"""Did the eyes beat the way they should, and if not, what may be exchanged?"""

from __future__ import annotations

from collections.abc import Iterator

from registry.caloric.case import Case
from registry.caloric.findings.finding import Finding
from registry.caloric.spontaneous import responses_without

_TOLERANCE = 1e-9
# Derived: below 10 points of shift the two readings of the sign lie too close to tell apart,
# and a preponderance within 5 points of the mirrored shift is explained by it.
_SHIFT_FROM = 10.0
_EXPLAINED_WITHIN = 5.0


def inverted_response(case: Case) -> Iterator[Finding]:
    """Below -2 deg/s after removing the spontaneous nystagmus.

    Warm air on a perforated drum inverts: 8 of 30 (Park et al.); 16 of 32 ears, Res Vestib Sci
    2012;11:29-36. The response is kept. ``value`` is the response without the nystagmus.
    """
    limit = -case.procedure.inverted_beyond_deg_s
    for one in case.visit.irrigations:
        if one.usable and case.is_inverted(one):
            nearest = max(responses_without(case.visit, one))
            yield Finding("inverted_response", one.name, None, nearest, limit)


def opposite_to_expected_cause_unknown(case: Case) -> Iterator[Finding]:
    """Below -2 deg/s as recorded, where the spontaneous nystagmus is not known well enough."""
    limit = -case.procedure.inverted_beyond_deg_s
    for one in case.visit.irrigations:
        peak = one.peak_spv
        if not one.usable or peak is None or peak >= limit - _TOLERANCE:
            continue
        if len(responses_without(case.visit, one)) != 1 and not case.is_inverted(one):
            yield Finding("opposite_to_expected_cause_unknown", one.name, None, peak, limit)


def labels_possibly_exchanged(case: Case) -> Iterator[Finding]:
    """Two responses that belong together are both inverted.

    ``ears``: both warm or both cool ones. ``temperatures``: both of one ear, which a perforation
    can do too. ``all``: all four.
    """
    inverted = case.inverted_cells()
    if len(inverted) == 4:
        yield Finding("labels_possibly_exchanged", None, "all")
    elif {"right_warm", "left_warm"} <= inverted or {"right_cool", "left_cool"} <= inverted:
        yield Finding("labels_possibly_exchanged", None, "ears")
    elif {"right_warm", "right_cool"} <= inverted or {"left_warm", "left_cool"} <= inverted:
        yield Finding("labels_possibly_exchanged", None, "temperatures")


def spontaneous_sign_suspect(case: Case) -> Iterator[Finding]:
    """The nystagmus explains the preponderance only when its sign is turned (derived).

    The shift is at least 10 points, preponderance plus shift is under 5, and preponderance minus
    shift is beyond the limit of gain asymmetry. ``value`` is that difference.
    """
    preponderance = case.indices.directional_preponderance_percent
    shift = case.indices.baseline_shift_percent
    if preponderance is None or shift is None or abs(shift) < _SHIFT_FROM - _TOLERANCE:
        return
    limit = case.criteria.limit("gain_asymmetry")
    explained = abs(preponderance + shift) < _EXPLAINED_WITHIN - _TOLERANCE
    if explained and limit.is_exceeded_by(abs(preponderance - shift)):
        yield Finding("spontaneous_sign_suspect", None, None, preponderance - shift, limit.value)


def vertical_component_present(case: Case) -> Iterator[Finding]:
    """The response had an up- or down-beating part; ``detail`` says which."""
    for one in case.visit.irrigations:
        if one.usable and one.vertical_component not in (None, "none"):
            yield Finding("vertical_component_present", one.name, one.vertical_component)
