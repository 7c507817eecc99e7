"""Dates and times as a reader writes them, in the clinic's own time."""

from __future__ import annotations

from datetime import date, datetime, tzinfo

from registry.pages.words import NOT_RECORDED


def day_words(value: date | str | None) -> str:
    """ "2 March 2026" for a date or its ISO text."""
    if not value:
        return NOT_RECORDED
    day = date.fromisoformat(value) if isinstance(value, str) else value
    return f"{day.day} {day:%B %Y}"


def month_words(value: str | None) -> str:
    """ "March 2026" for "2026-03"."""
    return f"{date.fromisoformat(f'{value}-01'):%B %Y}" if value else NOT_RECORDED


def moment_of(value: datetime | str | None, zone: tzinfo) -> datetime | None:
    """A moment, or its RFC 3339 text, in the clinic's zone."""
    if not value:
        return None
    moment = datetime.fromisoformat(value) if isinstance(value, str) else value
    return moment.astimezone(zone)


def moment_words(value: datetime | str | None, zone: tzinfo) -> str:
    """ "2 March 2026, 09:10" in the clinic's zone."""
    moment = moment_of(value, zone)
    return f"{day_words(moment.date())}, {moment:%H:%M}" if moment else NOT_RECORDED


def clock_words(value: datetime | str | None, zone: tzinfo) -> str:
    """ "09:10" in the clinic's zone; empty where no time was recorded."""
    moment = moment_of(value, zone)
    return f"{moment:%H:%M}" if moment else ""
