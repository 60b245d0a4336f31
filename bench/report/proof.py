"""What stands on the page that is signed: what was proved, what was not, and by which files."""

import datetime

from bench.files.exports.proof_text import job_lines, outcome_lines
from bench.files.job_standing import Proof, Proofs
from bench.report.document import (
    Block,
    Box,
    Column,
    Document,
    Facts,
    Heading,
    Points,
    Sign,
    Table,
    Text,
)
from bench.report.tables import capital
from bench.wording.cautions import PROVE
from bench.wording.face import listed
from bench.wording.proof import TITLES, because_words, box, headline, state_words

_TONES = {"failed": "stop", "open": "mend", "to do": "mend", "proved": "clear"}
_SHORT_SUM = 10


def proof_page(proofs: Proofs, by: str, vehicle: str, today: datetime.date,
               next_check: tuple[datetime.date, str]) -> Document:
    """Return the page of a job. next_check: the date, and why then."""
    before = tuple(p for p in proofs.steps if p.step != "signed")
    lead = _lead(proofs, before)
    # What failed is mended and proved first; no date of a next check stands for that.
    due = "" if lead.tone == _TONES["failed"] else next_check[0].isoformat()
    proved = lead.tone == _TONES["proved"]
    blocks: list[Block] = [
        Facts(tuple((label, text) for label, text in (
            ("Vehicle", vehicle),
            ("Signed by" if proved else "Printed by", by),
            ("Date", today.isoformat()), ("Next check by", due)) if text)),
        lead,
        *([Text(f"{capital(next_check[1])}.", "small")] if due else []),
        *(Text(f"{capital(line)}.", "small") for line in job_lines(proofs, "sweep")),
        Heading("What was done"),
        Table("Proofs with their state, date and file", (
            Column("", 0.05), Column("Proof", 0.24), Column("State", 0.29), Column("Date", 0.13),
            Column("File", 0.15), Column("SHA-256", 0.14)),
            tuple(_row(p) for p in before)),
    ]
    blocks += _values(proofs)
    for proof in before:
        beside = job_lines(proofs, "drive") if proof.step == "drive" else []
        if proof.outcome is not None and (lines := [*beside, *outcome_lines(proof)]):
            blocks += [Heading(TITLES[proof.step]), Points(tuple(capital(x) for x in lines))]
    blocks += [
        Heading("Not proved"),
        Points((*(f"{TITLES[p.step]}: {_state(p, ', ')}" for p in sorted(
                    before, key=lambda p: p.state != "failed") if p.state != "proved"),
                *_simulated(before),
                *(f"{TITLES[p.step]}: {because_words(p.step, p.because)}"
                  for p in _qualified(before)), *_NEVER)),
        Text(f"{PROVE}. Local codes and licensed practice come first.", "small"),
        Sign(("Place and date", "Signature" if proved else
              "Signature: of what stands here, no proof"))]
    return Document("Proof on the car", vehicle, by, tuple(blocks))


def _lead(proofs: Proofs, before: tuple[Proof, ...]) -> Box:
    """Return the line that everything else stands behind, in the tone of the worst step."""
    states = {p.state for p in before}
    if states <= {"proved"} and not any(p.simulated for p in before):
        more = ", with what is named under Not proved" if _qualified(before) else ""
        return Box(f"Everything below was proved{more}.", (), _TONES["proved"])
    lead = headline([(p.step, p.state, p.because) for p in before], proofs.simulated)
    return Box(lead, (), _TONES["failed" if "failed" in states else "open"])


def _simulated(before: tuple[Proof, ...]) -> list[str]:
    """Return in one line what was done on a simulated board."""
    names = [TITLES[p.step] for p in before if p.simulated]
    return [f"{listed(names)}: done on a simulated board, which shows nothing of a car"
            ] if names else []


def _qualified(before: tuple[Proof, ...]) -> list[Proof]:
    """Return what is proved, but not as it seems: by word alone, or before the newest sweep."""
    return [p for p in before if p.state == "proved" and p.because]


def _row(proof: Proof) -> tuple[str, ...]:
    """Return a proof as the row of the table: box, title, state, date, file, check sum."""
    entry = proof.entry
    return (box(proof.state, proof.simulated), TITLES[proof.step],
            _state(proof, ": ", proof.simulated),
            *((entry.when[:10], entry.file, entry.sha256[:_SHORT_SUM]) if entry else ("",) * 3))


def _state(proof: Proof, between: str, simulated: bool = False) -> str:
    why = because_words(proof.step, proof.because) if proof.because else ""
    return state_words(proof.state, simulated) + (f"{between}{why}" if why else "")


# What no log of this kind can show, whatever it holds.
_NEVER = (
    "A fault that was not made here: two at once, one that comes with rain, age or a crash",
    "What the controller does when its own input or its program fails",
    "Brakes, steering, and everything of the traction circuit")


def _values(proofs: Proofs) -> list[Block]:
    """Return the values as issued beside those typed back from the controller."""
    if proofs.findings is None:
        return []
    entry = proofs.of("entered").entry
    volts, typed = ({}, {}) if entry is None else (entry.values.get(k, {})
                                                   for k in ("volts", "typed"))
    states = {v.name: v.state for v in proofs.values}
    rows = []
    for setting in proofs.findings.settings:
        name = f"{setting.channel}.{setting.name}" if setting.channel else setting.name
        known = setting.value == setting.value
        shown = volts.get(name) if isinstance(volts, dict) else None
        said = typed.get(name, "") if isinstance(typed, dict) else ""
        that = [f"{float(shown):.3f} V"] if isinstance(shown, int | float) else []
        rows.append((name, f"{setting.value:.3f} {setting.unit}" if known else "none issued",
                     str(said), ", ".join(w for w in (*that, states.get(name, "")) if that and w)))
    return [Heading("Values"), Table(
        "Values as issued and as the controller shows them",
        (Column("Value", 0.3), Column("Issued", 0.2, True),
         Column("Typed back, its unit", 0.22, True), Column("That is", 0.28, True)), tuple(rows))]
