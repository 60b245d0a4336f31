"""What the window's state bar says: the board, the file, its values, what is being recorded."""

from typing import Literal

from bench.wording.hard_spaces import HARD

BoardKind = Literal["none", "opening", "waiting", "live", "silent", "out", "lent"]
Saving = Literal["none", "unsaved", "saved", "changed"]


def board_words(kind: str, name: str, silent_s: float = 0.0) -> str:
    """Return what the board does now; kind: a `BoardKind`."""
    if kind == "none":
        return "No board"
    if kind == "opening":
        return f"{name}: opening…"
    if kind == "waiting":
        return f"{name}: no reading yet"
    if kind == "lent":
        return f"{name}: in the check of a sender"
    if kind == "live":
        return f"{name}: live"
    if kind == "out":
        return f"{name}: cable is out, numbers frozen"
    return f"{name}: silent for {int(silent_s)}{HARD}s, numbers frozen"


def file_words(subject: str) -> str:
    """Return which file is on show; subject: its name, "" for none."""
    return subject or "No file open"


def saving_words(saving: str) -> str:
    """Return whether the values on show are kept; saving: a `Saving`."""
    return {"unsaved": "values not saved", "saved": "values saved",
            "changed": "values changed since saved"}.get(saving, "")


def recording_words(purpose: str, seconds: float, rows: int) -> str:
    """Return what is being recorded, for how long, and how many rows of it are in the file."""
    minutes, rest = divmod(int(seconds), 60)
    what = "Recording" if purpose == "sweep" else "Logging"
    count = f"{rows:,}".replace(",", HARD)
    return f"{what} {minutes}:{rest:02d}, {count}{HARD}rows"
