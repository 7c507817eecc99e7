"""Filters that put codes and figures into words; no figure is computed here."""

from __future__ import annotations

from django import template

register = template.Library()
