"""The version of this program, from its installed metadata."""

from functools import cache
from importlib import metadata


@cache
def version() -> str:
    """Return the installed version, or "unknown" when run from a bare checkout."""
    try:
        return metadata.version("stillpedal")
    except metadata.PackageNotFoundError:
        return "unknown"
