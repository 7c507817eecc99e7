"""Visits whose record deserves a second look: found, and shown to those who may see them."""
