"""Criteria: limits with their sources, in a named and versioned set.

A criterion is met or not met. It is a statement about measurements, read with local protocols.
A network may define its own set; every assessment says which set it was made with.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final, Self

from registry.caloric.default_limits import DEFAULT_LIMITS
from registry.caloric.limit import SOURCE_MARKS, Limit
from registry.caloric.stored import SettingFault, SettingsInvalid, is_number, unknown_fields

__all__ = ["DEFAULT_CRITERIA", "Assessment", "CriteriaSet", "Limit"]

LIMIT_CODES: Final = tuple(limit.code for limit in DEFAULT_LIMITS)
_SET_FIELDS: Final = ("name", "version", "limits")
_LIMIT_FIELDS: Final = ("code", "value", "inclusive", "source", "source_mark")
MAX_NAME: Final = 80
MAX_SOURCE: Final = 500


@dataclass(frozen=True, slots=True)
class CriteriaSet:
    """A complete set of limits: one for each of ``LIMIT_CODES``."""

    name: str
    version: int
    limits: tuple[Limit, ...] = DEFAULT_LIMITS

    def limit(self, code: str) -> Limit:
        """The limit of that code.

        :raises KeyError: if there is no such code.
        """
        for limit in self.limits:
            if limit.code == code:
                return limit
        raise KeyError(code)

    def to_json(self) -> dict[str, Any]:
        """All limits, so that a stored set does not change when our defaults do."""
        return {
            "name": self.name,
            "version": self.version,
            "limits": [asdict(limit) for limit in self.limits],
        }

    @classmethod
    def from_json(cls, body: Mapping[str, Any]) -> Self:
        """Read a stored set; a limit that it does not name keeps our default.

        :raises SettingsInvalid: with every fault in the set.
        """
        sent = body.get("limits", [])
        faults = unknown_fields(body, _SET_FIELDS, "") + _head_faults(body)
        if not isinstance(sent, list):
            raise SettingsInvalid([*faults, SettingFault("/limits", "not_a_list")])
        for place, one in enumerate(sent):
            faults += _limit_faults(one, f"/limits/{place}")
        if faults:
            raise SettingsInvalid(faults)
        own = {one["code"]: Limit(**one) for one in sent}
        if len(own) != len(sent):
            raise SettingsInvalid([SettingFault("/limits", "code_twice")])
        limits = tuple(own.get(limit.code, limit) for limit in DEFAULT_LIMITS)
        return cls(body["name"], body["version"], limits)


@dataclass(frozen=True, slots=True)
class Assessment:
    """What the indices say against one criterion.

    ``criterion`` is the code of the limit compared with; ``limit`` and ``value`` are unrounded.
    ``inclusive`` says whether the limit itself meets it. ``reason`` says why an
    ``undetermined`` one cannot be told, or which part of a screen failed.
    """

    code: str
    criterion: str | None = None
    limit: float | None = None
    value: float | None = None
    source: str | None = None
    inclusive: bool | None = None
    reason: str | None = None

    def as_json(self) -> dict[str, Any]:
        """Plain values under their own names."""
        return asdict(self)


DEFAULT_CRITERIA: Final = CriteriaSet("default", 1)


def _head_faults(body: Mapping[str, Any]) -> list[SettingFault]:
    faults = []
    name, version = body.get("name"), body.get("version")
    if not isinstance(name, str) or not 0 < len(name.strip()) <= MAX_NAME:
        faults.append(SettingFault("/name", "not_a_name"))
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        faults.append(SettingFault("/version", "not_a_whole_number_from_1"))
    return faults


def _limit_faults(sent: object, at: str) -> list[SettingFault]:
    if not isinstance(sent, dict):
        return [SettingFault(at, "not_an_object")]
    good = {
        "code": sent.get("code") in LIMIT_CODES,
        "value": is_number(sent.get("value")),
        "inclusive": isinstance(sent.get("inclusive"), bool),
        "source": _is_source(sent.get("source")),
        "source_mark": sent.get("source_mark") in SOURCE_MARKS,
    }
    faults = [SettingFault(f"{at}/{name}", "not_valid") for name in good if not good[name]]
    return faults + unknown_fields(sent, _LIMIT_FIELDS, at)


def _is_source(source: object) -> bool:
    return isinstance(source, str) and 0 < len(source) <= MAX_SOURCE
