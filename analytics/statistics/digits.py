"""Which last digits were written down, beside those an instrument would have given.

Only for readings taken by a person: what a device exports has no digit preference. Score as
Kuulasmaa et al. 1998 (WHO MONICA); formulas read in a public package's manual.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

Counts = NDArray[np.int64]

# Below this many expected of each digit the chi-square tail is not to be trusted
# (common practice, no source).
LEAST_EXPECTED: Final = 5.0


@dataclass(frozen=True, slots=True)
class DigitCounts:
    """How often each last digit was written, zeros included.

    ``digits`` are the last digits the resolution allows, as whole parts of ``step`` ("0.5" has
    0 and 5, a step of 0.25 has 0, 25, 50 and 75). ``off_grid`` values are no multiple of the step
    and are not in ``counts``; ``missing`` were not there.
    """

    digits: tuple[int, ...]
    counts: tuple[int, ...]
    off_grid: int = 0
    missing: int = 0


@dataclass(frozen=True, slots=True)
class DigitPreference:
    """Preference for some last digits; ``None`` with ``reason`` where it cannot be told.

    ``score`` runs from 0 (as expected) to 100 (always the same digit);
    ``score_by_chance`` is what even writing passes once in twenty times at this ``n``.
    ``zero_five_index`` is 100 when zeros and fives are as frequent as expected, 500 when
    nothing else is written of ten digits. ``p_value`` is ``None`` where fewer than five of each
    digit are expected; with many values it is tiny for trifles, so the score is to be read.
    """

    n: int
    chi_square: float | None
    df: int
    p_value: float | None
    score: float | None
    score_by_chance: float | None
    zero_five_index: float | None
    reason: str | None = None


def count_digits(values: ArrayLike, *, step: str | Decimal = "1") -> DigitCounts:
    """Count the last digits of ``values`` written in multiples of ``step``, signs left aside.

    Raises ``ValueError`` for a step that does not divide the power of ten above it.
    """
    size, decade = _grid(step)
    places = int(decade / size)
    x = np.abs(np.asarray(values, np.float64).ravel())
    present = np.isfinite(x)
    steps = x[present] / float(size)
    whole = np.round(steps)
    # A written decimal is off by rounding only; a thousandth of a step is something else.
    on_grid = np.abs(steps - whole) < 1e-3
    counts = np.bincount((whole[on_grid] % places).astype(np.int64), minlength=places)
    unit = int(size / Decimal(1).scaleb(_exponent(size)))
    return DigitCounts(
        digits=tuple(unit * place for place in range(places)),
        counts=tuple(counts.tolist()),
        off_grid=int((~on_grid).sum()),
        missing=int((~present).sum()),
    )


def digit_preference(found: DigitCounts) -> DigitPreference:
    """Chi-square against equal shares of all digits, preference score and share of 0 and 5."""
    counts = np.array(found.counts, np.float64)
    if len(counts) != len(found.digits) or (counts < 0).any():
        raise ValueError(f"counts {found.counts} for digits {found.digits}")
    n, df = int(counts.sum()), max(len(counts) - 1, 0)
    if df == 0 or n == 0:
        reason = "one_digit_only" if df == 0 else "no_values"
        return DigitPreference(n, None, df, None, None, None, None, reason)
    chi_square, p_value = (float(each) for each in stats.chisquare(counts))
    return DigitPreference(
        n=n,
        chi_square=chi_square,
        df=df,
        p_value=p_value if n / len(counts) >= LEAST_EXPECTED else None,
        score=100 * math.sqrt(chi_square / (n * df)),
        score_by_chance=min(100.0, 100 * math.sqrt(float(stats.chi2.isf(0.05, df)) / (n * df))),
        zero_five_index=_zero_five_index(found),
    )


def _zero_five_index(found: DigitCounts) -> float | None:
    """Share of 0 and 5 over the share expected, in percent; ``None`` if no other is possible."""
    decade: int = 10 ** len(str(max(found.digits)))
    chosen = [digit * 2 % decade == 0 for digit in found.digits]
    expected = sum(chosen) / len(chosen)
    if expected == 1:
        return None
    share = sum(n for n, taken in zip(found.counts, chosen, strict=True) if taken)
    return 100 * share / sum(found.counts) / expected


def _grid(step: str | Decimal) -> tuple[Decimal, Decimal]:
    size = Decimal(step)
    if not size.is_finite() or size <= 0:
        raise ValueError(f"a step must be above 0, not {step}")
    size = size.normalize()
    decade = Decimal(1).scaleb(size.adjusted() + 1)
    if decade % size:
        raise ValueError(f"a step of {step} does not divide {decade}")
    return size, decade


def _exponent(size: Decimal) -> int:
    exponent = size.as_tuple().exponent
    return exponent if isinstance(exponent, int) else 0
