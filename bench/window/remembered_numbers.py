"""Whole numbers that the window remembers: what is no such number is as if it were not there."""

from PySide6.QtCore import QSettings

# What a spin box of Qt can hold.
_MOST = 2**31 - 1


def whole_number(preferences: QSettings, key: str, usual: int) -> int:
    """Return the whole number kept under a key; the usual one where none, or nonsense, is kept.

    The file of memories is the user's own, and a disk or an editor may damage it.
    """
    try:
        value = int(str(preferences.value(key, usual)))
    except ValueError:
        return usual
    return value if 0 <= value <= _MOST else usual
