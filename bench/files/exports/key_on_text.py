"""A key-on log's findings as a page of plain text: the verdict first, then what it rests on."""

import math
import re

from analysis.evidence.key_on import key_on_claims
from analysis.key_on.opening import withholding
from analysis.key_on.results import Interval, KeyCycle, KeyOnFindings, TrackKeyOn
from bench.files.exports.export_document import Sheet
from bench.files.exports.text_layout import many, number, wrapped
from bench.files.exports.units import convert
from bench.wording.claims import claim_lines
from bench.wording.dead_band import ground
from bench.wording.face import TERMINAL, Face, on_a_sheet
from bench.wording.key_on import forbidding_beside
from bench.wording.key_on_allowance import hindrances_of
from bench.wording.key_on_found import CONTACTOR_WORDS
from bench.wording.key_on_reasons import DIRECTION
from bench.wording.key_on_sentences import millivolts
from bench.wording.limb import limb_of
from bench.wording.parameters import pedal_text
from bench.wording.reasons import in_words
from bench.wording.settings import label, reasons_once
from bench.wording.sweep import sentences as told

MOST_APPLICATIONS = 12



def key_on_text(findings: KeyOnFindings, name: str = "", face: Face = TERMINAL) -> str:
    """Return the findings for a person at the car; name: of the file, where it has no title.

    face: who reads it; on a terminal the remedies are told by the command that has them.
    """
    lines = [*_head(findings, name), "", "What it means", "-------------"]
    if face.kind == "terminal":
        face = on_a_sheet(face)
    for sentence in forbidding_beside(told(findings.forbidding, face), findings, face):
        lines += _wrapped(sentence, "* ")
    for note in findings.notes:
        lines += _wrapped(in_words(note, face), "? ")
    lines += ["", "What is claimed", "---------------"]
    for line in claim_lines(key_on_claims(findings), limb_of(findings.recording.pedal.use)):
        lines += _wrapped(line, "")
    lines += ["", *_cycles(findings), "", *_tracks(findings)]
    if findings.verdict.applications:
        lines += ["", *_applications(findings)]
    if findings.verdict.tracks:
        lines += ["", *_margins(findings)]
    lines += ["", *_more(findings)]
    if findings.settings:
        lines += ["", *_settings(findings, face)]
    return "\n".join(lines) + "\n"


def _wrapped(text: str, bullet: str) -> list[str]:
    """Return the text in lines, none of which ends within a number such as 120 000."""
    tied = re.sub(r"(?<=\d) (?=\d{3}\b)", "\N{NO-BREAK SPACE}", text)
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in wrapped(tied, bullet)]


def _head(findings: KeyOnFindings, name: str) -> list[str]:
    recording = findings.recording
    title = recording.title or name or "Untitled key-on log"
    seconds = float(recording.time_s[-1] - recording.time_s[0])
    about = [recording.started, recording.board_name, pedal_text(recording.pedal),
             f"{recording.rows} rows in {seconds:.1f} s",
             "file whole" if recording.complete else "CUT SHORT"]
    if recording.lost_samples:
        about.append(f"{recording.lost_samples} samples lost")
    return [title, "=" * len(title), ", ".join(text for text in about if text),
            f"{many(len(findings.cycles), 'key-on')}, "
            f"{findings.key_on_hours * 60:.1f} min with the key "
            f"on, found by {findings.cycles[0].found_by}",
            f"contactor at these key-ons: {CONTACTOR_WORDS[findings.contactor]}"]


def _cycles(findings: KeyOnFindings) -> list[str]:
    lines = ["Each key-on", "-----------",
             f"{'no.':>4} {'at, s':>10} {'for, s':>9}  track  {'shift, mV (limits)':<30}"
             f"{'settled, s':>10} {'furthest, mV':>13}"]
    for cycle in findings.cycles:
        lines += _cycle(cycle)
    return lines


def _cycle(cycle: KeyCycle) -> list[str]:
    lines = []
    head = f"{cycle.number:>4} {cycle.on_s:>10.3f} {cycle.off_s - cycle.on_s:>9.2f}"
    for track in cycle.tracks.values():
        shift = track.shift
        limits = (f"{1000 * shift.value:+z.2f} ({1000 * shift.low:+z.2f} to "
                  f"{1000 * shift.high:+z.2f})"
                  if math.isfinite(shift.value) else "- (no rest before)")
        lines.append(f"{head}  {track.column:<6} {limits:<30}{number(track.settling_s, 2):>10} "
                     f"{number(round(1000 * track.excursion_volts, 1) + 0.0, 1):>13}")
        head = " " * len(head)
    return lines


def _tracks(findings: KeyOnFindings) -> list[str]:
    tracks = list(findings.tracks.values())
    rows = [
        ("", [f"track {t.column}" for t in tracks]),
        ("direction", [f"{t.direction} ({DIRECTION[t.direction_why]})" for t in tracks]),
        ("shift, all", [millivolts(t.shift) for t in tracks]),
        ("between key-ons", [number(1000 * t.between_cycles_volts, 2, "mV") for t in tracks]),
        ("noise off/on", [f"{number(1000 * t.noise_before_volts, 2)} / "
                          f"{number(1000 * t.noise_after_volts, 2, 'mV rms')}" for t in tracks]),
        ("drift", [_per_minute(t.drift_volts_per_minute) for t in tracks]),
        ("per degree", ["-" if t.per_degree is None else millivolts(t.per_degree)
                        for t in tracks]),
        ("supply", [t.follows for t in tracks]),
        ("may add", [_bound(t, findings.more_cycles[0].logged) for t in tracks]),
        ("allowed for car", [_counts(findings, t.column) for t in tracks]),
    ]
    lines = ["The tracks", "----------"]
    for column in range(len(tracks)):
        lines += [f"{name:<16}{cells[column]}" for name, cells in rows]
        lines += _tones(tracks[column])
        lines += wrapped(in_words(tracks[column].lift_basis), "  ")
        if column + 1 < len(tracks):
            lines.append("")
    return lines


def _per_minute(drift: Interval) -> str:
    if math.isnan(drift.value):
        return "unknown"
    limits = ("" if math.isnan(drift.low) else
              f" ({1000 * drift.low:+z.2f} to {1000 * drift.high:+z.2f} mV/min at "
              f"{drift.confidence:.0%})")
    return f"{1000 * drift.value:+z.2f} mV/min{limits}"


def _bound(track: TrackKeyOn, logged: int) -> str:
    if not math.isfinite(track.lift_bound_volts):
        return "no bound"
    return (f"at most {number(1000 * track.lift_bound_volts, 1, 'mV')}, from "
            f"{many(logged, 'key-on')}")


def _counts(findings: KeyOnFindings, column: str) -> str:
    """Return what counts for what the car adds to a track, and why it is not what it may add."""
    car = findings.car.get(column)
    if car is None:
        withheld = withholding(findings.found)
        return (f"none is taken from this log ({withheld[0].code})" if withheld else
                "the assumed allowance (too few key-ons)")
    word = ""
    if car.basis == "assumed":
        word = f", {hindrances_of(findings)[0].brief}"
    return f"{number(1000 * car.volts, 1, 'mV')} ({ground(car.basis, car.key_ons)}{word})"


def _tones(track: TrackKeyOn) -> list[str]:
    lines = []
    for tone in track.tones:
        also = " also with the key off;" if tone.before else ""
        lines += wrapped(
            f"tone {tone.hertz:.2f} Hz, {1000 * tone.amplitude_volts:.2f} mV:{also} "
            f"{in_words(tone.source)}; "
            f"or folded down from {', '.join(f'{h:.0f}' for h in tone.aliases_hz[:4])} ... Hz",
            "  ")
    return lines


def _applications(findings: KeyOnFindings) -> list[str]:
    of = limb_of(findings.recording.pedal.use)
    title = f"{of.power.capitalize()} without a {of.limb}"
    lines = [title, "-" * len(title)]
    found = findings.verdict.applications
    for event in found[:MOST_APPLICATIONS]:
        both = ", both tracks" if event.both else ""
        lines.append(f"{event.start_s:>10.3f} s  track {event.column}  for {event.seconds:.3f} s, "
                     f"up to {event.peak_volts:.4f} V (key-on {event.cycle}{both})")
    total = sum(t.applications for t in findings.verdict.tracks.values())
    if total > MOST_APPLICATIONS:
        lines.append(f"... and {total - MOST_APPLICATIONS} more.")
    return lines


def _margins(findings: KeyOnFindings) -> list[str]:
    lines = ["How close it came", "-----------------"]
    for track in findings.verdict.tracks.values():
        if math.isnan(track.margin_volts):
            lines.append(f"track {track.column}: no reading")
            continue
        percent = ("" if math.isnan(track.margin_percent)
                   else f" = {track.margin_percent:.2f} % of travel")
        lines.append(f"track {track.column}: furthest {track.closest_volts:.4f} V at "
                     f"{track.closest_at_s:.3f} s, start of travel "
                     f"{track.start_of_travel_volts:.4f} V: {1000 * track.margin_volts:+.1f} mV"
                     f"{percent}")
    lines += [f"track {name}: no start of travel to judge by" for name in findings.tracks
              if name not in findings.verdict.tracks]
    return lines


def _more(findings: KeyOnFindings) -> list[str]:
    lines = ["How many key-ons", "----------------"]
    for more in findings.more_cycles:
        state = "enough" if not more.missing else f"{more.missing} to go"
        lines.append(f"{more.coverage:.1%} of later key-ons below the largest lift seen, "
                     f"{more.confidence:.0%} confidence: "
                     f"{many(more.needed, 'key-on')} ({state})")
    return lines


def _settings(findings: KeyOnFindings, face: Face) -> list[str]:
    title = "Settings, issued anew" if findings.issued else "Settings judged"
    if findings.passed:
        title += ": do not enter these"
    elif findings.forbidding:
        title += ": repair the pedal first"
    elif any(b.lost_travel_percent > findings.parameters.allowed_lost_travel_percent
             for b in findings.dead_bands.values()):
        title += ": find what lifts the reading first"
    lines = [title, "-" * len(title)]
    # Rounded to the safe side, as every sheet of the settings has them.
    sheet = Sheet(findings.settings, findings.recording.nominal_volts)
    wide = max(len(label(s)) for s in findings.settings)
    for setting, why in zip(findings.settings, reasons_once(findings.settings, face),
                            strict=True):
        value = "not determined"
        if math.isfinite(setting.value):
            value = (f"{convert(setting, '', sheet).rounded(3):.3f} V" if setting.unit == "V"
                     else f"{setting.value:g} {setting.unit}")
        if setting.name in ("start_of_travel", "release") and setting.channel in findings.passed:
            value += "   passed in this log: do not enter"
        lines.append(f"{label(setting):<{wide}}  {value}")
        if findings.issued:
            lines += wrapped(why, "    ")
    return lines
