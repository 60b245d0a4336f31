"""Parameters that outlive a sitting: those that belong to the bench, not to one recording."""

from typing import Any

from PySide6.QtCore import QSettings

from analysis.parameters import TABLE, Parameters


def remember(preferences: QSettings, parameters: Parameters) -> None:
    """Keep what may be remembered of these parameters."""
    for name, row in TABLE.items():
        if row.remembered:
            preferences.setValue(f"parameters/{name}", getattr(parameters, name))


def remembered(preferences: QSettings) -> Parameters:
    """Return the parameters that were kept; the usual value where one makes no sense."""
    values: dict[str, Any] = {}
    for name, row in TABLE.items():
        stored = preferences.value(f"parameters/{name}") if row.remembered else None
        if stored is None:
            continue
        try:
            value = row.from_text(str(stored))
            row.check(value)
        except (ValueError, OverflowError):
            # A setting file from another version or hand: the usual value will do.
            continue
        values[name] = value
    return Parameters(**values)
