"""Filters that put codes and figures into words; no figure is computed here."""

from __future__ import annotations

from datetime import date, datetime, tzinfo
from typing import Any

from django import template
from django.conf import settings
from django.templatetags.static import StaticNode
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.timezone import get_default_timezone

from registry.pages.moments import day_words, moment_words
from registry.pages.words import NOT_RECORDED
from registry.pages.words import say as words_for

register = template.Library()
# Every page asks for its stylesheet, so no template has to load the library for it.
register.tag("static", lambda parser, token: StaticNode.handle_token(parser, token))


@register.filter
def say(code: object, field: str) -> str:
    """``{{ visit.medium|say:"medium" }}``: the words of a code."""
    return words_for(field, code)


@register.filter
def day(value: date | str | None) -> str:
    return day_words(value)


@register.filter
def moment(value: datetime | str | None, access: Any) -> str:
    """A moment in the time zone of the clinic acted for."""
    zone: tzinfo = access.zone() if access else get_default_timezone()
    return moment_words(value, zone)


@register.filter
def celsius(value: float | None) -> str:
    return NOT_RECORDED if value is None else f"{value:g} °C"


@register.filter
def marked(text: str) -> SafeString:
    """What stands between two back ticks as code; everything is escaped first."""
    parts = enumerate(str(text).split("`"))
    return format_html_join("", "{}", ((_code(one) if at % 2 else one,) for at, one in parts))


def _code(text: str) -> SafeString:
    return format_html("<code>{}</code>", text)


@register.simple_tag
def demo_note() -> SafeString:
    """Asked of the settings, not of the context: the page of a broken request has none."""
    if not settings.DEMO:
        return SafeString("")
    return format_html(
        '<aside class="demo-note" aria-label="Demonstration"><p><strong>{}</strong> {}</p></aside>',
        "Demonstration.",
        "All data here are invented. Never enter a real result.",
    )


@register.simple_tag(takes_context=True)
def here(context: template.Context, *names: str) -> SafeString:
    """Mark the link of the page one is on, for readers that announce it and for the eye."""
    request = context.get("request")
    match = getattr(request, "resolver_match", None)
    is_here = match is not None and match.view_name in names
    return SafeString(' aria-current="page"' if is_here else "")
