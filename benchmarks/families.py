"""Which families of made floors a suite runs."""

from __future__ import annotations

import click

from benchmarks.settings import Settings
from regmap import synthetic

__all__ = ["COLOURED", "chosen", "coloured"]

COLOURED = (
    "flat",
    "near-colours",
    "few-colours",
    "dark",
    "chrome",
    "turned",
    "stretched",
    "mirrored",
)
"""Rooms are coloured areas, the whole floor is shown, and the outlines are those of the floor."""


def chosen(settings: Settings) -> tuple[str, ...]:
    """Return the families that were asked for, by default all."""
    unknown = [name for name in settings.families if name not in synthetic.FAMILIES]
    if unknown:
        known = ", ".join(synthetic.FAMILIES)
        raise click.UsageError(f"no such family: {', '.join(unknown)}. There are: {known}")
    return settings.families or synthetic.FAMILIES


def coloured(settings: Settings) -> tuple[str, ...]:
    """Return those of the chosen families that are coloured."""
    return tuple(name for name in chosen(settings) if name in COLOURED)
