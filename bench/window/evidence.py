"""The verdict's sentences with what each rests on, in the order the analysis gave them."""

from dataclasses import dataclass

import numpy as np

from analysis.faults import Fault
from analysis.findings import Findings
from analysis.verdict import off_at_rest
from bench.exports.findings_text import with_uncertainty

WORDS = {3: "Do not drive", 2: "Mend first", 1: "Know"}


@dataclass(frozen=True)
class Said:
    """Hold one sentence, its gravity (0: nothing wrong), its evidence, and the fault behind it."""

    gravity: int
    sentence: str
    evidence: str
    fault: Fault | None = None


def said(findings: Findings) -> list[Said]:
    """Return every sentence of the verdict, then every note, each with its evidence."""
    result = []
    off = off_at_rest(findings.tracks, findings.pair)
    for sentence in findings.verdict:
        fault = next((f for f in findings.faults if f.text in sentence), None)
        if fault is not None:
            alike = [f for f in findings.faults
                     if (f.kind, f.channel) == (fault.kind, fault.channel)]
            result.append(Said(fault.gravity, sentence, _of_faults(alike), fault))
            continue
        if off is not None and f"track {off[0]} rests " in sentence:
            result.append(Said(2, sentence, _of_rests(findings, off[:2])))
            continue
        column = next((c for c in findings.dead_bands if sentence.startswith(f"Track {c}:")), None)
        if column is not None:
            band = findings.dead_bands[column]
            allowed = findings.wishes.allowed_lost_travel_percent
            fine = band.weak is None and band.lost_travel_percent <= allowed
            result.append(Said(0 if fine else 2, sentence, _of_band(findings, column)))
        elif findings.pair is not None and findings.pair.relation in sentence:
            result.append(Said(0, sentence, _of_pair(findings)))
        else:
            result.append(Said(0, sentence, ""))
    result += [Said(1, note, "What is missing or weak in this recording.")
               for note in findings.notes]
    return result


def _of_faults(faults: list[Fault]) -> str:
    places = ", ".join(_place(f) for f in faults[:4])
    more = f" and {len(faults) - 4} more" if len(faults) > 4 else ""
    return f"Seen at {places}{more}."


def _place(fault: Fault) -> str:
    travel = f" ({fault.travel_percent:.0f} % of travel)" if np.isfinite(
        fault.travel_percent) else ""
    return f"{fault.time_s:.2f} s{travel}"


def _of_band(findings: Findings, column: str) -> str:
    band, track = findings.dead_bands[column], findings.tracks[column]
    items = ", ".join(f"{i.name} {1000 * i.volts:.1f} mV ({i.basis})" for i in band.items)
    return (f"{track.rest_levels.size} returns, rest {with_uncertainty(track.rest, 4, 'V')}. "
            f"Budget: {items}.")


def _of_rests(findings: Findings, columns: tuple[str, ...]) -> str:
    rests = (f"{c} {with_uncertainty(findings.tracks[c].rest, 4, 'V')} over "
             f"{findings.tracks[c].rest_levels.size} returns" for c in columns)
    return f"Rest: {', '.join(rests)}."


def _of_pair(findings: Findings) -> str:
    pair = findings.pair
    assert pair is not None
    return (f"Gain {with_uncertainty(pair.gain, 4)}, offset "
            f"{with_uncertainty(pair.offset_volts, 4, 'V')}, worst mismatch "
            f"{with_uncertainty(pair.mismatch_max_percent, 2, '%')}, play between pressing and "
            f"letting go {with_uncertainty(pair.play_percent, 2, '%')}.")
