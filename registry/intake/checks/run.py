"""All checks of one visit, in one call: every fault at once, or the visit."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date, tzinfo
from typing import Final

from registry.caloric.responses import sign_conflicts
from registry.caloric.visit import Visit
from registry.intake.checks.build import build_visit, buildable
from registry.intake.checks.defaults import with_defaults
from registry.intake.checks.directory import Directory
from registry.intake.checks.draft import Draft
from registry.intake.checks.rules.attempts import attempts
from registry.intake.checks.rules.counts import counts
from registry.intake.checks.rules.fixation import fixation
from registry.intake.checks.rules.known_codes import known_codes
from registry.intake.checks.rules.order import order
from registry.intake.checks.rules.peak import peak
from registry.intake.checks.rules.set_temperature import set_temperature
from registry.intake.checks.rules.spontaneous import spontaneous
from registry.intake.checks.rules.started_near_visit import started_near_visit
from registry.intake.checks.rules.usable import usable
from registry.intake.checks.rules.visit_day import visit_day
from registry.intake.checks.shape import read_shape
from registry.intake.faults import Fault

Rule = Callable[[Draft], Iterable[Fault]]

RULES: Final[tuple[Rule, ...]] = (
    visit_day,
    known_codes,
    spontaneous,
    attempts,
    order,
    started_near_visit,
    set_temperature,
    peak,
    fixation,
    usable,
    counts,
)


def check_visit(
    data: object,
    *,
    directory: Directory,
    today: date,
    reduced: bool = False,
    need_set_temperature: bool = True,
    defaults: Mapping[str, object] | None = None,
    zone: tzinfo | None = None,
) -> tuple[Visit | None, list[Fault]]:
    """The visit, or all that is wrong with it; never both.

    Parameters
    ----------
    data
        A visit as JSON gives it: dicts, lists, strings, numbers, booleans, null.
    directory
        Knows the clinic's codes.
    today
        The clinic's own day; a visit may not lie after it.
    reduced
        Only ``irrigations`` is needed and no code is looked up; what is absent becomes
        ``build.NOT_SENT``, age 0 and ``today``. For computing without storing.
    need_set_temperature
        Whether warm and cool irrigations must say theirs; never asked of a reduced visit.
    defaults
        The clinic's own values by dotted path, used where the visit is silent.
    zone
        The clinic's time zone, in which a time without an offset is read; without it such a
        time is a fault.
    """
    data, applied = with_defaults(data, defaults) if defaults else (data, ())
    draft = Draft(
        today=today,
        directory=directory,
        reduced=reduced,
        need_set_temperature=need_set_temperature and not reduced,
    )
    read_shape(data, draft, zone=zone)
    # Rules read the faults of the shape only, so that the order of rules means nothing.
    found = [fault for rule in RULES for fault in rule(draft)]
    visit = build_visit(draft, applied)
    found.extend(_sign_faults(visit, draft))
    draft.faults.extend(found)
    return (None, draft.faults) if draft.faults else (visit, [])


def _sign_faults(visit: Visit, draft: Draft) -> Iterator[Fault]:
    if "sign_convention" not in draft.visit and draft.was_sent(draft.visit, "sign_convention", ""):
        return
    positions = sign_conflicts(visit)
    if positions:
        sent_at = buildable(draft)
        for position in positions:
            yield Fault(f"/irrigations/{sent_at[position][0]}/peak_spv", "sign_conflict")
