"""The version of this program, from its installed metadata."""

from importlib import metadata


def version() -> str:
    """Return the installed version, or "unknown" when run from a bare checkout."""
    try:
        return metadata.version("stillpedal")
    except metadata.PackageNotFoundError:
        return "unknown"
