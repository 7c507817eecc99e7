"""The columns of the two tables, made from the fields of a visit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from registry.caloric.vocabulary import CELLS
from registry.intake.fields import GROUPS, IRRIGATION_FIELDS, VISIT_FIELDS, Field

Shape = Literal["long", "wide"]
SHAPES: Final[tuple[Shape, ...]] = ("long", "wide")


@dataclass(frozen=True, slots=True)
class Column:
    """A column and where its value belongs.

    ``group`` is the object of the visit that holds it (``spontaneous``), ``cell`` the cell of a
    wide column (``right_warm``), or the stimulus where one column serves both ears (``warm``).
    """

    name: str
    field: Field
    holder: Literal["visit", "irrigation"]
    group: str | None = None
    cell: str | None = None
    needed: bool = False

    @property
    def tail(self) -> str:
        """The pointer to the value, from the visit or from the irrigation that holds it."""
        return f"/{self.group}/{self.field.name}" if self.group else f"/{self.field.name}"


# The cells of a wide row; what is not here can be sent by the long table or JSON.
_IN_A_CELL: Final = (
    "peak_spv",
    "fixation_spv",
    "pre_fixation_spv",
    "set_temperature_c",
    "measured_temperature_c",
    "duration_s",
    "started_at",
    "order_in_visit",
    "usable",
    "earlier_attempts_not_sent",
    "repeat_reason",
)
_BY_NAME: Final = {field.name: field for field in IRRIGATION_FIELDS}
_IN_BOTH: Final = frozenset(field.name for field in VISIT_FIELDS) & frozenset(_BY_NAME)


def _visit_columns() -> tuple[Column, ...]:
    own = [Column(field.name, field, "visit", needed=field.needed) for field in VISIT_FIELDS]
    grouped = [
        Column(f"{group}.{field.name}", field, "visit", group=group)
        for group, fields in GROUPS.items()
        for field in fields
    ]
    return (*own, *grouped)


def _irrigation_columns() -> tuple[Column, ...]:
    """A field that the visit has as well (``tester``) is written ``irrigation.tester``."""
    return tuple(
        Column(
            f"irrigation.{field.name}" if field.name in _IN_BOTH else field.name,
            field,
            "irrigation",
            needed=field.needed or field.name == "peak_spv",
        )
        for field in IRRIGATION_FIELDS
    )


def _cell_columns() -> tuple[Column, ...]:
    shared = [
        Column(
            f"{stimulus}_temperature_c", _BY_NAME["set_temperature_c"], "irrigation", cell=stimulus
        )
        for stimulus in ("warm", "cool")
    ]
    own = [
        Column(f"{cell}.{name}", _BY_NAME[name], "irrigation", cell=cell, needed=name == "peak_spv")
        for cell in CELLS
        for name in _IN_A_CELL
    ]
    return (*shared, *own)


VISIT_COLUMNS: Final = _visit_columns()
COLUMNS: Final[dict[Shape, tuple[Column, ...]]] = {
    "long": VISIT_COLUMNS + _irrigation_columns(),
    "wide": VISIT_COLUMNS + _cell_columns(),
}
