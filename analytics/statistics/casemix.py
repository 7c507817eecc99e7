"""Each tester's results beside what its mix of patients lets expect.

Patients differ between testers, so a plain comparison compares patients. Here the case mix, the
clinic and the irrigator are taken off together with the testers' own effects, which are drawn to
0 by how little is known of them. It cannot separate what never differs: with one tester in each
clinic the tester's effect holds the clinic's too, and ``notes`` says so.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special, stats

from analytics.statistics.casemix_table import LEAST_LEVELS, Grouping, Table, prepare, separable
from analytics.statistics.casemix_table import Visits as Visits
from analytics.statistics.mixed_model import MixedFit, fit_means, fit_shares

Floats = NDArray[np.float64]

# Visits, or events and others each, for every covariate (Peduzzi et al. 1996, from memory).
LEAST_FOR_A_COVARIATE: Final = 10
_NORMAL_95: Final = float(stats.norm.ppf(0.975))


@dataclass(frozen=True, slots=True)
class Effect:
    """Effect of a tester, clinic or irrigator, drawn to 0, with its standard error.

    In the outcome's unit, for shares as a logarithm of odds.
    """

    label: Hashable
    visits: int
    estimate: float
    se: float


@dataclass(frozen=True, slots=True)
class AdjustedTester:
    """One tester's results; ``None`` where the model could not be made.

    ``observed`` and ``expected`` are means (or shares) over the tester's own visits, ``expected``
    by the case mix alone. ``adjusted`` is what the network's mix would have given: the overall
    mean plus their difference, or the overall share times their ``ratio`` (kept to 0 to 1).
    ``shrunken`` with ``low`` to ``high`` (95 %) is the overall value moved by the tester's own
    effect: clinic and irrigator taken off, and drawn to the network by how little is known.
    """

    label: Hashable
    visits: int
    observed: float
    expected: float | None
    ratio: float | None
    adjusted: float | None
    shrunken: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Coefficient:
    """Effect of one unit of a covariate, with its standard error."""

    name: str
    estimate: float
    se: float


@dataclass(frozen=True, slots=True)
class CaseMix:
    """Adjusted results of all testers, and what the adjustment rests on.

    ``effects`` and ``sds`` hold the groupings that were in the model: ``tester``, ``clinic``,
    ``irrigator``. ``notes`` tell what was left out of it, in the words of ``casemix_table``.
    ``reason`` tells why testers have no effects (``few_testers``,
    ``no_repeats``, ``not_settled``) or nothing was expected either (``no_visits``,
    ``few_visits``, ``few_events``, ``outcome_is_constant``).
    """

    testers: tuple[AdjustedTester, ...]
    overall: float | None
    visits: int
    incomplete: int
    coefficients: tuple[Coefficient, ...] = ()
    effects: Mapping[str, tuple[Effect, ...]] = field(default_factory=dict)
    sds: Mapping[str, float] = field(default_factory=dict)
    residual_sd: float | None = None
    notes: tuple[str, ...] = ()
    reason: str | None = None


def adjust_means(visits: Visits) -> CaseMix:
    """Adjust a mean: linear mixed model by restricted maximum likelihood."""
    return _adjust(prepare(visits), shares=False)


def adjust_shares(visits: Visits) -> CaseMix:
    """Adjust a share of visits: logistic mixed model by penalised quasi-likelihood.

    Its spread between testers comes out some 5 to 10 % small where they have few events each.
    Raises ``ValueError`` for an outcome that is neither 0, 1 nor missing.
    """
    table = prepare(visits)
    other = table.outcome[(table.outcome != 0) & (table.outcome != 1)]
    if len(other):
        raise ValueError(f"an outcome of a share is 0 or 1, not {other[0]}")
    return _adjust(table, shares=True)


def _adjust(table: Table, *, shares: bool) -> CaseMix:
    reason = _nothing_to_expect(table, shares)
    if reason:
        return _only_observed(table, reason)
    used, notes = separable(table)
    # Every reason against effects of testers leaves the case mix itself to be adjusted for.
    reason = _no_tester_effects(table)
    model = fit_shares if shares else fit_means
    fixed = np.column_stack([np.ones(len(table.outcome)), table.columns])
    codes = [] if reason else [table.groupings[name].codes for name in used]
    fitted = model(table.outcome, fixed, codes)
    if fitted is None and not reason:
        reason, used, fitted = "not_settled", (), model(table.outcome, fixed, [])
    if fitted is None:
        return _only_observed(table, "not_settled")
    return _answer(table, fitted, () if reason else used, notes, reason, shares=shares)


def _nothing_to_expect(table: Table, shares: bool) -> str | None:
    n, covariates = len(table.outcome), len(table.names)
    if n == 0:
        return "no_visits"
    if table.outcome.min() == table.outcome.max():
        return "outcome_is_constant"
    if n <= LEAST_FOR_A_COVARIATE * covariates:
        return "few_visits"
    rarer = min(table.outcome.sum(), n - table.outcome.sum())
    return "few_events" if shares and rarer < LEAST_FOR_A_COVARIATE * covariates else None


def _no_tester_effects(table: Table) -> str | None:
    testers = len(table.groupings["tester"].labels)
    if testers < LEAST_LEVELS:
        return "few_testers"
    return "no_repeats" if testers == len(table.outcome) else None


def _answer(
    table: Table,
    fitted: MixedFit,
    used: tuple[str, ...],
    notes: tuple[str, ...],
    reason: str | None,
    *,
    shares: bool,
) -> CaseMix:
    overall = float(table.outcome.mean())
    by_mix = table.columns @ fitted.coefficients[1:]
    expected = _expected_shares(by_mix, overall) if shares else overall + by_mix - by_mix.mean()
    effects = {
        name: _effects(table.groupings[name], fitted.effects[at], fitted.effect_se[at])
        for at, name in enumerate(used)
    }
    slopes = zip(
        table.names,
        (fitted.coefficients[1:] / table.scales).tolist(),
        (fitted.coefficient_se[1:] / table.scales).tolist(),
        strict=True,
    )
    return CaseMix(
        testers=_testers(table, expected, effects.get("tester"), shares=shares),
        overall=overall,
        visits=len(table.outcome),
        incomplete=table.incomplete,
        coefficients=tuple(Coefficient(*each) for each in slopes),
        effects=effects,
        sds=dict(zip(used, fitted.sds, strict=True)),
        residual_sd=fitted.residual_sd,
        notes=notes,
        reason=reason,
    )


def _expected_shares(by_mix: Floats, overall: float) -> Floats:
    """Share of each visit by the case mix, its level set so that all together give ``overall``."""
    reach = 40 + float(np.abs(by_mix).max(initial=0.0))

    def missing(level: float) -> float:
        return float(special.expit(by_mix + level).mean()) - overall

    expected: Floats = special.expit(by_mix + optimize.brentq(missing, -reach, reach, xtol=1e-12))
    return expected


def _effects(grouping: Grouping, estimates: Floats, errors: Floats) -> tuple[Effect, ...]:
    visits = np.bincount(grouping.codes, minlength=len(grouping.labels))
    columns = (grouping.labels, visits.tolist(), estimates.tolist(), errors.tolist())
    return tuple(Effect(*each) for each in zip(*columns, strict=True))


def _testers(
    table: Table, expected: Floats | None, effects: tuple[Effect, ...] | None, *, shares: bool
) -> tuple[AdjustedTester, ...]:
    grouping = table.groupings["tester"]
    visits = np.bincount(grouping.codes, minlength=len(grouping.labels))
    observed = np.bincount(grouping.codes, table.outcome) / visits
    hoped = None if expected is None else np.bincount(grouping.codes, expected) / visits
    overall = float(table.outcome.mean()) if len(table.outcome) else 0.0
    return tuple(
        _tester(
            label=label,
            visits=int(visits[at]),
            observed=float(observed[at]),
            expected=None if hoped is None else float(hoped[at]),
            effect=None if effects is None else effects[at],
            overall=overall,
            shares=shares,
        )
        for at, label in enumerate(grouping.labels)
    )


def _tester(
    *,
    label: Hashable,
    visits: int,
    observed: float,
    expected: float | None,
    effect: Effect | None,
    overall: float,
    shares: bool,
) -> AdjustedTester:
    ratio, adjusted = None, None
    if expected is not None and shares:
        ratio = observed / expected
        adjusted = min(overall * ratio, 1.0)
    elif expected is not None:
        adjusted = overall + observed - expected
    moved: tuple[float | None, ...] = (None, None, None)
    if effect is not None:
        half = _NORMAL_95 * effect.se
        moves = np.array([effect.estimate, effect.estimate - half, effect.estimate + half])
        ends = special.expit(special.logit(overall) + moves) if shares else overall + moves
        moved = tuple(ends.tolist())
    return AdjustedTester(label, visits, observed, expected, ratio, adjusted, *moved)


def _only_observed(table: Table, reason: str) -> CaseMix:
    n = len(table.outcome)
    return CaseMix(
        testers=_testers(table, None, None, shares=False) if n else (),
        overall=float(table.outcome.mean()) if n else None,
        visits=n,
        incomplete=table.incomplete,
        notes=table.notes,
        reason=reason,
    )
