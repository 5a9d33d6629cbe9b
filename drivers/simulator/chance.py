"""Chance, one stream for each source, so that what happens to one never changes another's luck."""

from __future__ import annotations

from random import Random


def stream(seed: str, *source: str) -> Random:
    """The stream of chance of this source under this seed; the same on every computer and Python."""
    return Random("/".join((seed, *source)))  # noqa: S311  a simulation wants to be repeatable, not secret
