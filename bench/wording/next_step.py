"""The one command that comes next, ready to be copied, with its real file names."""

import re
from pathlib import Path

from analysis.evidence.key_on import (
    BRAKE,
    LEADS,
    MEASURED,
    NOISE,
    SAME_PEDAL,
    key_on_claims,
    shows_no_power,
)
from analysis.key_on.opening import opening
from analysis.key_on.results import KeyOnFindings
from analysis.model.recording import Recording
from analysis.pedal.findings import Findings
from bench.wording.face import listed
from bench.wording.key_on import without_start
from bench.wording.key_on_allowance import what_to_do
from bench.wording.limb import limb_of
from bench.wording.parameters import options_of
from bench.wording.shell_quote import pasted

# Open, and another sweep of the same pedal leaves it so.
LEFT_TO_THE_USER = frozenset({"one track", "apart all along", "unusual relation",
                              "overlooked track", "nothing allowed for the car",
                              "supply off nominal"})
# A counter is short; what ends in a date or a time, "2026-11-28", "-0844", "08-44", has none.
_NUMBERED = re.compile(r"^(.*?)(?<!\d)(\d{1,3})$", re.DOTALL)
_DATED = re.compile(r"(?<!\d)(?:(?:\d{2}|\d{4})[-_.:hT ]\d{2}|\d{4}[-_.]\d{1,2}[-_.]\d{1,2})$")


def board_of(recording: Recording) -> str:
    """Return the port that the recording was made on, as its header has it, else PORT."""
    board = recording.extra.get("board")
    port = board.get("port") if isinstance(board, dict) else None
    return pasted(str(port)) if isinstance(port, str) and port else "PORT"


def free_name(path: Path, word: str = "") -> Path:
    """Return a name beside `path` that is not taken: `word`, else its counter or -2 counted up."""
    stem = word or path.stem
    match = None if _DATED.search(stem) else _NUMBERED.match(stem)
    base, number, width = (match[1], int(match[2]) + 1, len(match[2])) if match else (
        f"{stem}-", 2, 1)
    candidate = path.with_name(f"{word}{path.suffix or '.csv'}") if word else None
    while candidate is None or candidate.exists():
        candidate = path.with_name(f"{base}{number:0{width}}{path.suffix or '.csv'}")
        number += 1
    return candidate


def after_sweep(findings: Findings, path: Path, log: str = "") -> str:
    """Return the command after a sweep was read: sweep again, or carry the values away.

    What no further sweep can show does not ask for one. log: the words that name the key-on log
    whose allowance is in the values, " --key-on LOG"; without them other values would come out.
    """
    open_codes = {code for claim in findings.claims for code in claim.because}
    if findings.state == "sound" or (findings.state == "open" and open_codes <= LEFT_TO_THE_USER):
        return f"stillpedal settings {pasted(path)}{log}{options_of(findings.parameters)}"
    again = free_name(path)
    return f"stillpedal sweep --board {board_of(findings.recording)} --out {pasted(again)}"


def after_settings(findings: Findings, path: Path, log: str = "") -> str:
    """Return the command after the values were read: take them to the car, then write the page.

    log: as for `after_sweep`.
    """
    if findings.car or findings.recording.rheostat is not None:
        # What a rheostat reads in the car is the controller's own: no log of it is judged.
        page = free_name(path.with_suffix(".pdf"), path.stem)
        return (f"stillpedal report {pasted(path)}{log} --out {pasted(page)}"
                f"{options_of(findings.parameters)}")
    new = free_name(path.with_name("key-on.csv"), "key-on")
    return (f"stillpedal watch --board {board_of(findings.recording)} --out {pasted(new)} "
            f"--sweep {pasted(path)}{options_of(findings.parameters)}")


def _port_of_log(findings: KeyOnFindings) -> str:
    """Return the port of the log, else that of its sweep, else PORT."""
    port = board_of(findings.recording)
    return board_of(findings.swept) if port == "PORT" and findings.swept is not None else port


def after_log(findings: KeyOnFindings, log: Path, sweep: Path | None,
              contactor: str | None = None, entered: str = "") -> tuple[str, str]:
    """Return the command after a key-on log was read, and why, in one line each.

    sweep: the file of this pedal's sweep, None where none was given. contactor: as it was stated
    on the command line; the log itself may say it too. entered: the words that state the values
    it was judged by, " --entered a.rest=0.75"; the next log is judged by them as well.
    """
    port = _port_of_log(findings)
    if sweep is None:
        return (f"stillpedal sweep --board {port} --out {pasted(free_name(log, 'sweep'))}",
                "or give the sweep of this pedal: --sweep FILE; without it nothing says where "
                "its start of travel lies")
    claims = {c.claim: c for c in key_on_claims(findings)}
    # Only a log with a brake has that claim.
    state_of_brake = claims[BRAKE].state if BRAKE in claims else ""
    mine = options_of(findings.parameters)
    swept = f"--sweep {pasted(sweep)}{entered}{mine}"
    again = (f"stillpedal watch --board {port} --out {pasted(free_name(log))} {swept}")
    sweep_again = f"stillpedal sweep --board {port} --out {pasted(free_name(sweep))}"
    if any(f.code == "another kind of pedal" for f in findings.found):
        return f"{again} --pedal-kind KIND", "with the kind that the pedal is"
    if claims[SAME_PEDAL].state == "bad":
        # Whatever that sweep asks for: it is of another state of the pedal.
        return sweep_again, "as installed: the pedal rests elsewhere now than in the sweep"
    if findings.forbidding:
        return sweep_again, "after the repair"
    if findings.verdict.applied or claims[LEADS].state == "bad" or state_of_brake == "bad":
        limb = limb_of(findings.recording.pedal.use).limb
        return again, f"after the repair: find what lifts the reading (a ground, a lead, a {limb})"
    opened = opening(findings.found)
    without = without_start(findings)
    if without and not opened and not findings.unread:
        return sweep_again, f"with track {listed(without)} too: this sweep does not have it"
    if claims[MEASURED].state == "bad":
        return again, "after the repair: find what differed at that key-on (contactor, pump, lead)"
    if not shows_no_power(tuple(claims.values())):
        return again, _why_again(opened[0].code if opened else "", claims[NOISE].state)
    if findings.contactor != "closed":
        return (f"{again} --contactor closed",
                "with the contactor closed: wheels off the ground, somebody at the disconnect")
    stated = "" if contactor is None else f" --contactor {contactor}"
    return f"stillpedal settings {pasted(sweep)} --key-on {pasted(log)}{stated}{mine}", ""


def _why_again(opened: str, noise: str) -> str:
    """Return why a log that settles nothing is to be taken again. opened: the code that opens it.

    noise: the state of the claim on noise.
    """
    if noise == "bad":
        return "after the repair: find what brings the noise (a ground, an unscreened lead)"
    return (what_to_do(opened) if opened else "") or "so that every track is read all the time"
