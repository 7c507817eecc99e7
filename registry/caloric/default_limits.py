"""The limits a network starts with, each beside its source."""

from __future__ import annotations

from typing import Final

from registry.caloric.limit import Limit

_PRACTICE: Final = "common practice, no source"
_MEMORY: Final = "from memory, unverified"
_BILATERAL: Final = "Strupp et al., J Vestib Res 2017;27:177-189, doi 10.3233/VES-170619"
_AGED: Final = "Agrawal et al., J Vestib Res 2019;29:161-170, doi 10.3233/VES-190672"
_SCREEN: Final = "Lightfoot et al., Ear Hear 2009;30(1):54-62 (sensitivity 95 %, specificity 71 %)"
_WEAKNESS: Final = (
    "common practice; 20, 25 and 30 % are all in use: Murnane et al., Ear Hear 2009;30, "
    "doi 10.1097/AUD.0b013e31819c3ec7 uses 20 and 25"
)
_FIXATION: Final = (
    "secondary reference; normal suppression 48 +- 10 % (n=22), Takemori, Ann Otol Rhinol "
    "Laryngol 1977;86:80-85, and 54 +- 12 % (n=52), Clin Otolaryngol 1978;3:145-153: the limit "
    "is reached by some normal subjects"
)

DEFAULT_LIMITS: Final = (
    # above, in %
    Limit("unilateral_weakness", 25.0, False, _WEAKNESS, "common_practice"),
    Limit("directional_preponderance", 30.0, False, _PRACTICE, "common_practice"),
    Limit("gain_asymmetry", 25.0, False, _MEMORY, "memory"),
    # below, in deg/s of all four responses together
    Limit("low_total_response", 22.0, False, _PRACTICE, "common_practice"),
    Limit("unsteady_percentages", 24.0, False, _PRACTICE, "common_practice"),
    # A number of its own, so that a network can refuse percentages later than it warns of them.
    Limit("percentages_undetermined", 24.0, False, _PRACTICE, "common_practice"),
    # from: ear totals this far apart keep weakness and preponderance determined, deg/s
    Limit("ear_totals_differ", 10.0, True, _PRACTICE, "common_practice"),
    # below, in deg/s of one ear
    Limit("low_ear_total", 12.0, False, _MEMORY, "memory"),
    Limit("both_ear_totals_below_6", 6.0, False, _BILATERAL, "published"),
    # Above 6 and below 25 on each side; exactly 6.0 meets neither this nor the one before.
    Limit("both_ear_totals_above_6", 6.0, False, _AGED, "published"),
    Limit("both_ear_totals_below_25", 25.0, False, _AGED, "published"),
    Limit("age_60_up", 60.0, True, f"{_AGED}; the age second-hand", "published"),
    # above, in deg/s of one ear
    Limit("large_response", 140.0, False, _MEMORY, "memory"),
    # from, a ratio
    Limit("fixation_index_above_limit", 0.60, True, _FIXATION, "published"),
    # below 15 %, above 8 deg/s, below 4 deg/s
    Limit("warm_screen_asymmetry", 15.0, False, _SCREEN, "published"),
    Limit("warm_screen_response", 8.0, False, _SCREEN, "published"),
    Limit("warm_screen_spontaneous", 4.0, False, _SCREEN, "published"),
)
