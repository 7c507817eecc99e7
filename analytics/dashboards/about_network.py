"""A whole network at a glance, for its leads."""

from __future__ import annotations

from collections import Counter
from typing import Final

from analytics.dashboards.about_measure import network_control, small
from analytics.dashboards.figures.bars import bars
from analytics.dashboards.figures.coverage import coverage
from analytics.dashboards.figures.parts import counts, many
from analytics.dashboards.figures.style import Json
from analytics.dashboards.sources import SHOWN_MONTHS, Source
from analytics.measures import catalogue

# Outside the 99.8 % lines chance alone puts so many of those that do not differ.
BY_CHANCE: Final = 0.002
# The measures whose network is followed on the first page: level, balance, how the work went.
CONTROLLED: Final = (
    "response_level",
    "right_left_balance",
    "warm_cool_ratio",
    "repeats_by_visit",
)


def network_for_lead(source: Source) -> Json:
    """Coverage, small funnels, what is to review, and the network's control charts."""
    figures = {"coverage": _coverage(source), "to_review": _to_review(source)}
    figures |= {f"control_{name}": network_control(source, name) for name in CONTROLLED}
    figures |= {f"funnel_{name}": small(source, name) for name in source.testers.years}
    return {"figures": figures, "facts": _facts(source)}


def _coverage(source: Source) -> Json:
    visits = source.testers.visits[:, -SHOWN_MONTHS:]
    of_clinics = source.of_clinics.visits[:, -SHOWN_MONTHS:]
    return coverage(
        source.testers.months,
        counts(visits.sum(axis=0)),
        counts((visits > 0).sum(axis=0)),
        counts((of_clinics > 0).sum(axis=0)),
    )


def _to_review(source: Source) -> Json:
    found = Counter(source.to_review)
    # In the order of the catalogue: sorted by number it would read as a ranking.
    ordered = [one for one in catalogue().measures if one.id in found]
    chance = expected_by_chance(source)
    return bars(
        [one.title for one in ordered],
        [found[one.id] for one in ordered],
        title="What is to review",
        says=f"{many(sum(found.values()), 'signal')} to review. {_chance_says(source, chance)}",
        footer=(
            "Signals of the tier to review that nobody has reviewed, by measure; chance alone:"
            f" tests made times {BY_CHANCE}."
        ),
        unit="signals",
        along="Measure",
        lying=True,
    )


def expected_by_chance(source: Source) -> float | None:
    """How many marks beyond 99.8 % lines chance alone would give in the last evaluation."""
    return None if source.build is None else source.build.tests_made * BY_CHANCE


def _chance_says(source: Source, chance: float | None) -> str:
    if source.build is None or chance is None:
        return "The network has not been evaluated yet."
    return (
        f"The last evaluation made {many(source.build.tests_made, 'comparison')}; if nobody"
        f" differed, about {chance:.1f} would lie beyond 99.8 % lines by chance."
    )


def _facts(source: Source) -> Json:
    chance = expected_by_chance(source)
    return {
        "testers": len(source.testers.tallies.testers),
        "clinics": len(source.clinics),
        "visits": int(source.cells.visits.sum()),
        "tests_made": source.build.tests_made if source.build else None,
        "by_chance": None if chance is None else round(chance, 1),
        "to_review": len(source.to_review),
    }
