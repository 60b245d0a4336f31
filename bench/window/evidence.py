"""The verdict's sentences with what each rests on, in the order the analysis gave them."""

from dataclasses import dataclass

import numpy as np

from analysis.faults import Fault
from analysis.findings import Findings
from analysis.promise import NOT_KNOWN
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
    verdict, notes = (findings.graded[:len(findings.verdict)],
                      findings.graded[len(findings.verdict):])
    for each in verdict:
        gravity, sentence = each.gravity, each.text
        fault = next((f for f in findings.faults if f.text in sentence), None)
        column = next((c for c in findings.dead_bands if sentence.startswith(f"Track {c}:")), None)
        if fault is not None:
            alike = [f for f in findings.faults
                     if (f.kind, f.channel) == (fault.kind, fault.channel)]
            evidence = _of_faults(alike)
        elif off is not None and f"rack {off[0]} rests " in sentence:
            evidence = _of_rests(findings, off[:2])
        elif column is not None:
            evidence = _of_band(findings, column)
        elif findings.pair is not None and findings.pair.relation in sentence:
            evidence = _of_pair(findings)
        else:
            evidence = ""
        result.append(Said(gravity, sentence, evidence, fault))
    # A note is never good news, whether or not the values suffer from it.
    result += [Said(max(each.gravity, 1), each.text, "What is missing or weak in this recording.")
               for each in notes]
    return result


def must_mend(findings: Findings) -> str:
    """Return the gravest sentence that no value on the sheet answers; "" when there is none.

    A track that is off at rest, or a costly dead band, is mended by turning or by the values:
    the page Decide does that. Anything else calls for a screwdriver and another sweep.
    """
    faults = any(f.gravity >= 2 for f in findings.faults)
    weak = any(band.weak is not None for band in findings.dead_bands.values())
    if findings.doubt is None and not faults and not weak:
        return ""
    return next(s.text for s in findings.graded if s.gravity == findings.gravest)


def what_first(findings: Findings) -> str:
    """Return what `must_mend` calls for, in a sentence."""
    if findings.doubt is not None or any(f.gravity >= 2 for f in findings.faults):
        return "Mend it first, then sweep again: only another sweep proves it."
    return "These values carry no promise yet: this sweep does not suffice, sweep again."


def grave_count(findings: Findings) -> int:
    """Return how many sentences say that something must be mended before driving."""
    return sum(s.gravity >= 2 for s in findings.graded)


def _of_faults(faults: list[Fault]) -> str:
    places = ", ".join(_place(f) for f in faults[:4])
    more = f" and {len(faults) - 4} more" if len(faults) > 4 else ""
    return f"Seen at {places}{more}."


def _place(fault: Fault) -> str:
    travel = f" ({fault.travel_percent:.0f} % of travel)" if np.isfinite(
        fault.travel_percent) else ""
    return f"{fault.time_s:.2f} s{travel}" if np.isfinite(fault.time_s) else f"any time{travel}"


def _of_band(findings: Findings, column: str) -> str:
    band, track = findings.dead_bands[column], findings.tracks[column]
    items = ", ".join(f"{i.name} not known" if i.basis == NOT_KNOWN or not np.isfinite(i.volts)
                      else f"{i.name} {1000 * i.volts:.1f} mV ({i.basis})" for i in band.items)
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
