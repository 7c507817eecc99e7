"""Where an index could lie if the same subject were tested again on another day."""

from __future__ import annotations

from typing import Final, NamedTuple

# Two-sided 95 % of a normal distribution, as the retest standard error itself was derived from
# a 95 % limit (24 points of weakness: Proctor et al., Ann Otol Rhinol Laryngol 1986;95:83-90).
_NORMAL_95: Final = 1.959963984540054


class RetestInterval(NamedTuple):
    """Both ends, in the unit and sign of the index."""

    low: float
    high: float


def retest_interval(percent: float | None, se_retest: float | None) -> RetestInterval | None:
    """The 95 % retest interval of an index in points; ``None`` where either is undefined."""
    if percent is None or se_retest is None:
        return None
    reach = _NORMAL_95 * se_retest
    return RetestInterval(percent - reach, percent + reach)
