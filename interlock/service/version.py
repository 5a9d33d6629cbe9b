"""Which version of the program this is."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError
from importlib.metadata import version as installed


def version() -> str:
    """As in the installed metadata; "0" from a checkout that was never installed."""
    try:
        return installed("longlace")
    except PackageNotFoundError:
        return "0"
