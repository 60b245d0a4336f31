"""Files that the window records: how a new one is called, and where a discarded one goes."""

import datetime
from pathlib import Path

from PySide6.QtCore import QFile

from bench.services.saving import free_path, move_new
from bench.wording.pages.sweep import put_aside, trashed


def free_name(folder: Path, what: str) -> Path:
    """Return a new file's path in the folder, named by what it is and by date."""
    return free_path(folder / f"{what}-{datetime.datetime.now():%Y-%m-%d-%H%M%S}.csv")


def throw_away(path: Path) -> str:
    """Put a file into the trash, or aside where there is none; return in words where it went."""
    if QFile.moveToTrash(str(path)):
        return trashed(path.name)
    aside = move_new(path, path.with_name(f"{path.name}.discarded"))
    return put_aside(str(aside))
