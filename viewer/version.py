"""The version of this program."""

from __future__ import annotations


def version() -> str:
    """As the package says it; words where it is not installed as one."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("upline")
    except PackageNotFoundError:
        return "(not installed as a package)"
