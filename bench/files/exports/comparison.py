"""A comparison of two recordings as text and as JSON."""

import json
import math
import textwrap
from pathlib import Path

from analysis.evidence.change import STILL_HOLDS, change_claims, change_findings
from analysis.pedal.compare import Comparison, Move
from bench.files.exports.findings_json import claim_object, finding_object
from bench.wording.compare import (
    amount,
    before_after,
    change_sentence,
    label,
    notes,
    sentences,
    still_to_be_repaired,
)
from bench.wording.face import TERMINAL, on_a_sheet
from bench.wording.faults import fault_words
from bench.wording.sweep import sentence
from bench.wording.sweep import sentences as told

WIDTH = 78
_WORDS = {True: "worse", False: "better"}


def comparison_text(comparison: Comparison, before: str, after: str) -> str:
    """Return the sentences, every quantity with its change, and what is still to be repaired."""
    lines = [f"before: {before}", f"after:  {after}", ""]
    for text in sentences(comparison):
        lines += textwrap.wrap(text, WIDTH, initial_indent="- ", subsequent_indent="  ")
    for note in notes(comparison):
        lines += textwrap.wrap(f"note: {note}", WIDTH, subsequent_indent="  ")
    lines.append("")
    wide = max((len(label(m)) for m in comparison.moves), default=8)
    lines.append(f"{'':<{wide}}  {'before':>12} {'after':>12} {'change':>12} {'std unc.':>11}")
    for move in comparison.moves:
        lines.append(
            f"{label(move):<{wide}}  "
            f"{' '.join(f'{each:>12}' for each in before_after(move))} "
            f"{amount(move.change, move.unit, signed=True):>12} "
            f"{uncertainty_told(move):>11}  {word(move)}".rstrip())
    lines += ["", *textwrap.wrap(
        f"A change is called real beyond {comparison.factor:.2f} standard uncertainties (more "
        "after few returns), so that an unchanged pedal shows any real change in at most 5 % of "
        "comparisons.", WIDTH)]
    left = comparison.left or comparison.asked
    face = on_a_sheet(TERMINAL, Path(after).name)
    lines += ["", still_to_be_repaired(comparison)]
    for each in left:
        lines += textwrap.wrap(sentence(each, face), WIDTH, initial_indent="* ",
                               subsequent_indent="  ")
    return "\n".join(lines) + "\n"


def uncertainty_told(move: Move) -> str:
    """Return the standard uncertainty of a change, or a dash."""
    return amount(move.uncertainty, move.unit) if math.isfinite(move.uncertainty) else "-"


def word(move: Move) -> str:
    """Return one or two words for what became of a quantity."""
    if move.real and move.worse is not None:
        return _WORDS[move.worse]
    return "moved" if move.real else "same" if move.real is False else ""


def comparison_json(comparison: Comparison, before: str, after: str) -> str:
    """Return the comparison as JSON, numbers not rounded, null where unknown."""
    return json.dumps({
        "schema": 1, "before": before, "after": after,
        "coverage_factor": comparison.factor, "got_worse": comparison.got_worse,
        "old_settings_hold": _holds(comparison),
        "moves": [{"name": m.name, "channel": m.channel, "unit": m.unit, "before": m.before,
                   "after": m.after, "change": m.change, "uncertainty": _known(m.uncertainty),
                   "real": m.real, "worse": m.worse} for m in comparison.moves],
        "settings": [{"name": s.name, "channel": s.channel, "unit": s.unit,
                      "before": _known(s.before), "after": _known(s.after)}
                     for s in comparison.settings],
        "faults_new": [{"kind": f.kind, "channel": f.channel,
                        "text": fault_words(f.why, TERMINAL)}
                       for f in comparison.faults_new],
        "faults_gone": [{"kind": f.kind, "channel": f.channel,
                        "text": fault_words(f.why, TERMINAL)}
                        for f in comparison.faults_gone],
        "sentences": list(sentences(comparison)), "notes": list(notes(comparison)),
        "still_to_be_mended": list(told(comparison.left)),
        "to_be_known": list(told(comparison.asked)),
        "findings": [finding_object(f, change_sentence(f)) for f in change_findings(comparison)],
        "claims": [claim_object(c) for c in change_claims(comparison)],
        "later": {"state": comparison.after.state,
                  "claims": [claim_object(c) for c in comparison.after.claims]},
    }, indent=1, ensure_ascii=False) + "\n"


def _holds(comparison: Comparison) -> bool | None:
    """Return whether the earlier settings hold; None where that cannot be told."""
    state = next(c.state for c in change_claims(comparison) if c.claim == STILL_HOLDS)
    return {"sound": True, "bad": False, "open": None}[state]


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None
