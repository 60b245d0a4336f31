"""What stands on the page that is signed: what was proved, what was not, and by which files."""

import datetime

from bench.files.exports.proof_text import job_lines, outcome_lines
from bench.files.job_standing import Proofs
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
from bench.wording.proof import TITLES, because_words, box, headline, state_words

_TONES = {"failed": "stop", "open": "mend", "to do": "mend", "proved": "clear"}
_SHORT_SUM = 10


def proof_page(proofs: Proofs, by: str, vehicle: str, today: datetime.date,
               next_check: tuple[datetime.date, str]) -> Document:
    """Return the page of a job. next_check: the date, and why then."""
    before = tuple(p for p in proofs.steps if p.step != "signed")
    left = [p for p in before if p.state != "proved"]
    worst = "failed" if any(p.state == "failed" for p in before) else "open" if left else "proved"
    simulated = [TITLES[p.step] for p in before if p.simulated]
    if simulated and worst == "proved":
        worst = "open"
    # Proved, but not as it seems: by word alone, or before the newest sweep.
    qualified = [p for p in before if p.state == "proved" and p.because]
    lead = ("Everything below was proved" + (", with what is named under Not proved."
                                             if qualified else ".")
            if not left and not simulated else headline(
                [(p.step, p.state, p.because) for p in before], proofs.simulated))
    blocks: list[Block] = [
        Facts(tuple((label, text) for label, text in (
            ("Vehicle", vehicle), ("Signed by", by), ("Date", today.isoformat()),
            ("Next check by", next_check[0].isoformat())) if text)),
        Box(lead, (), _TONES[worst]),
        Text(f"{capital(next_check[1])}.", "small"),
        *(Text(f"{capital(line)}.", "small") for line in job_lines(proofs, "sweep")),
        Heading("What was done"),
        Table("Proofs with their state, date and file", (
            Column("", 0.05), Column("Proof", 0.24), Column("State", 0.29), Column("Date", 0.13),
            Column("File", 0.15), Column("SHA-256", 0.14)),
            tuple((box(p.state), TITLES[p.step],
                   state_words(p.state, p.simulated) + (f": {because_words(p.step, p.because)}"
                                           if p.because else ""),
                   p.entry.when[:10] if p.entry else "", p.entry.file if p.entry else "",
                   p.entry.sha256[:_SHORT_SUM] if p.entry else "") for p in before)),
    ]
    blocks += _values(proofs)
    for proof in before:
        if proof.outcome is not None and (lines := outcome_lines(proof)):
            blocks += [Heading(TITLES[proof.step]), Points(tuple(capital(x) for x in lines))]
    blocks += [
        Heading("Not proved"),
        Points((*(f"{t}: done on a simulated board, which shows nothing of a car"
                  for t in simulated),
                *(f"{TITLES[p.step]}: {state_words(p.state)}"
                  + (f", {because_words(p.step, p.because)}" if p.because else "")
                  for p in left),
                *(f"{TITLES[p.step]}: {because_words(p.step, p.because)}" for p in qualified),
                *_NEVER)),
        Text(f"{PROVE}. Local codes and licensed practice come first.", "small"),
        Sign(("Place and date", "Signature"))]
    return Document("Proof on the car", vehicle, by, tuple(blocks))


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
    rows = []
    for setting in proofs.findings.settings:
        name = f"{setting.channel}.{setting.name}" if setting.channel else setting.name
        known = setting.value == setting.value
        shown = volts.get(name) if isinstance(volts, dict) else None
        said = typed.get(name, "") if isinstance(typed, dict) else ""
        rows.append((name, f"{setting.value:.3f} {setting.unit}" if known else "none issued",
                     str(said), f"{float(shown):.3f} V" if isinstance(shown, int | float) else ""))
    return [Heading("Values"), Table(
        "Values as issued and as the controller shows them",
        (Column("Value", 0.34), Column("Issued", 0.22, True),
         Column("Typed back, its unit", 0.22, True), Column("That is", 0.22, True)), tuple(rows))]
