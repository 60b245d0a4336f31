"""The one command that comes next, ready to be copied, with its real file names."""

import re
from pathlib import Path

from analysis.pedal.findings import Findings
from bench.wording.shell_quote import pasted

# Open, and another sweep of the same pedal leaves it so.
LEFT_TO_THE_USER = frozenset({"one track", "apart all along", "unusual relation",
                              "overlooked track", "nothing allowed for the car",
                              "supply off nominal"})
_NUMBERED = re.compile(r"^(.*?)(\d+)$")


def board_of(findings: Findings) -> str:
    """Return the port that the recording was made on, as its header has it, else PORT."""
    board = findings.recording.extra.get("board")
    port = board.get("port") if isinstance(board, dict) else None
    return pasted(str(port)) if isinstance(port, str) and port else "PORT"


def free_name(path: Path, word: str = "") -> Path:
    """Return a name beside `path` that is not taken: its word or number counted up."""
    stem = word or path.stem
    match = _NUMBERED.match(stem)
    base, number = (match[1], int(match[2]) + 1) if match else (f"{stem}-", 2)
    candidate = path.with_name(f"{word}{path.suffix or '.csv'}") if word else None
    while candidate is None or candidate.exists():
        candidate = path.with_name(f"{base}{number}{path.suffix or '.csv'}")
        number += 1
    return candidate


def after_sweep(findings: Findings, path: Path) -> str:
    """Return the command after a sweep was read: sweep again, or carry the values away.

    What no further sweep can show does not ask for one.
    """
    open_codes = {code for claim in findings.claims for code in claim.because}
    if findings.state == "sound" or (findings.state == "open" and open_codes <= LEFT_TO_THE_USER):
        return f"stillpedal settings {pasted(path)}"
    again = free_name(path)
    return f"stillpedal sweep --board {board_of(findings)} --out {pasted(again)}"


def after_settings(findings: Findings, path: Path) -> str:
    """Return the command after the values were read: take them to the car, then write the page."""
    if findings.car:
        page = free_name(path.with_suffix(".pdf"))
        return f"stillpedal report {pasted(path)} --out {pasted(page)}"
    log = free_name(path.with_name("key-on.csv"), "key-on")
    return (f"stillpedal watch --board {board_of(findings)} --out {pasted(log)} "
            f"--sweep {pasted(path)}")
