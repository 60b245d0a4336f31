"""Findings as a page of plain text: the verdict first, then what it rests on."""

import math
from dataclasses import dataclass

from analysis.model.estimate import Estimate
from analysis.pedal.dead_band import INPUT, DeadBand, stated
from analysis.pedal.findings import Findings
from analysis.pedal.pair import PairFindings
from analysis.pedal.tracks import TrackFindings
from analysis.pedal.withhold_levels import NOT_KNOWN, promise_values
from bench.files.exports.text_layout import number, wrapped
from bench.wording.claims import claim_lines, state_line
from bench.wording.dead_band import CONDITION, conditions, ground, more_would_pay, two_numbers
from bench.wording.face import REMEDIES, TERMINAL, Face, listed
from bench.wording.faults import fault_words
from bench.wording.limb import Limb, limb_of
from bench.wording.parameters import pedal_text
from bench.wording.reasons import in_words
from bench.wording.short import UNDATED
from bench.wording.sweep import sentences

MOST_FAULTS = 12
GRAVITY = {3: "do not drive", 2: "repair first", 1: "know"}


def findings_text(findings: Findings, name: str = "", face: Face = TERMINAL) -> str:
    """Return the findings for a person at the bench; name: of the file, where it has no title."""
    lines = [*_head(findings, name), "",
             *wrapped(state_line(findings.state, findings.gravest, findings.claims), ""),
             "", "What it means", "-------------"]
    for text in sentences((*findings.verdict, *findings.car_said), face):
        lines += wrapped(text, "* ")
    for text in sentences(findings.notes, face):
        lines += wrapped(text, "? ")
    lines += ["", "What is claimed", "---------------"]
    of = limb_of(findings.recording.pedal.use)
    for line in claim_lines(findings.claims, of):
        lines += wrapped(line, "")
    lines += ["", *_tracks(findings)]
    if findings.pair is not None:
        lines += ["", *_pair(findings.pair, Scale(findings.recording.ohms_per_volt), of)]
    lines += ["", *_faults(findings, face), "", *_returns(findings)]
    told: dict[str, str] = {}
    for band in findings.dead_bands.values():
        lines += ["", *_dead_band(band, told, face, of)]
    lines += _remedies(findings, face)
    return "\n".join(lines) + "\n"


def with_uncertainty(estimate: Estimate, digits: int = 4, unit: str = "") -> str:
    """Return "value +- u" with one uncertainty (see Estimate), or a dash where there is none."""
    if not math.isfinite(estimate.value):
        return "-"
    text = f"{estimate.value:z.{digits}f}"
    # None at all is never known: the readings do not tell it.
    if math.isfinite(estimate.uncertainty) and estimate.uncertainty > 0:
        text += f" +- {max(estimate.uncertainty, 10.0**-digits):.{digits}f}"
    return text + (f" {unit}" if unit else "")


def _head(findings: Findings, name: str) -> list[str]:
    recording = findings.recording
    seconds = float(recording.time_s[-1] - recording.time_s[0])
    title = recording.title or name or "Untitled sweep"
    state = "file whole" if recording.complete else "CUT SHORT"
    about = [recording.started, recording.board_name, pedal_text(recording.pedal),
             f"{recording.rows} rows in {seconds:.1f} s", state]
    if recording.lost_samples:
        about.append(f"{recording.lost_samples} samples lost")
    presses = sum(s.kind == "press" for s in findings.segments)
    quick = sum(s.quick for s in findings.segments)
    of = limb_of(recording.pedal.use)
    return [title, "=" * len(title), ", ".join(text for text in about if text),
            f"1 {of.press} seen, let go {'quickly' if quick else 'slowly'}" if presses == 1 else
            f"{presses} {of.presses} seen, {quick} of them let go quickly"]


def _tracks(findings: Findings) -> list[str]:
    nominal, scale = findings.recording.nominal_volts, Scale(findings.recording.ohms_per_volt)
    recorded = next(iter(findings.tracks.values())).supply_recorded
    about = ("Ohms of the rheostat, without what is in series with it." if scale.ohms else
             "Volts at the sensor, as the board measured them."
             if not findings.recording.pedal.ratiometric else
             f"Volts at the sensor, stated at {nominal:g} V supply"
             + (" (ratio to the recorded supply)." if recorded else " (supply not recorded)."))
    return ["The tracks", "----------", about,
            "+- is one uncertainty: twice that holds the truth in 95 of 100 cases.",
            *(f"{name:<16}" + "".join(f"{cell:<26}" for cell in cells).rstrip()
              for name, cells in _track_rows(list(findings.tracks.values()), nominal, scale))]


def _one_step(track: TrackFindings, scale: "Scale") -> str:
    return scale.number(track.step_volts, 2) if track.step_volts > 0 else "? (not known)"


def _track_rows(tracks: list[TrackFindings], nominal: float,
                scale: "Scale") -> list[tuple[str, list[str]]]:
    """Return what is told of each track, row by row: its name, and a cell for each."""
    return [
        ("", [f"track {t.column}" for t in tracks]),
        ("direction", [t.direction for t in tracks]),
        ("rest (median)", [scale.level(t.rest) for t in tracks]),
        *([] if scale.ohms else [
            ("  of supply", [f"{100 * t.rest.value / nominal:.2f} %" for t in tracks])]),
        ("  returns", [str(t.rest_levels.size) for t in tracks]),
        ("  scatter", [scale.small(t.rest_scatter) for t in tracks]),
        ("  drift", [scale.small(t.drift_volts_per_minute, "/min") for t in tracks]),
        ("noise, rms", [scale.number(t.noise_volts, 2) for t in tracks]),
        ("full travel", [scale.level(t.full) for t in tracks]),
        ("span", [scale.level(t.span) for t in tracks]),
        ("one step", [_one_step(t, scale) for t in tracks]),
        ("linearity", [number(t.linearity_percent, 2, "% of supply") for t in tracks]),
        ("clipped", ["YES" if t.clipped else "no" for t in tracks]),
    ]


@dataclass(frozen=True)
class Scale:
    """Tell the levels of a sweep in volts and millivolts, those of a rheostat in ohms.

    ohms_per_volt: of a rheostat, None of another pedal.
    """

    ohms_per_volt: float | None

    @property
    def ohms(self) -> bool:
        """Return whether its levels are ohms."""
        return self.ohms_per_volt is not None

    def level(self, estimate: Estimate) -> str:
        """Return a level with its uncertainty, to 0.1 mV or 0.1 ohm."""
        return (with_uncertainty(estimate, 4, "V") if self.ohms_per_volt is None else
                with_uncertainty(_times(estimate, self.ohms_per_volt), 1, "ohm"))

    def small(self, estimate: Estimate, per: str = "") -> str:
        """Return a difference with its uncertainty; per: "/min" behind its unit."""
        factor, unit = (1000.0, "mV") if self.ohms_per_volt is None else (self.ohms_per_volt, "ohm")
        return with_uncertainty(_times(estimate, factor), 1, f"{unit}{per}")

    def number(self, volts: float, digits: int) -> str:
        """Return a difference in millivolts, or ohms, with so many digits."""
        return (number(1000 * volts, digits, "mV") if self.ohms_per_volt is None else
                number(self.ohms_per_volt * volts, digits, "ohm"))

    def whole(self, volts: float, digits: int) -> str:
        """Return a level in volts with so many digits, or in whole ohms."""
        return (number(volts, digits, "V") if self.ohms_per_volt is None else
                number(self.ohms_per_volt * volts, 0, "ohm"))


def _times(estimate: Estimate, factor: float) -> Estimate:
    return Estimate(factor * estimate.value, factor * estimate.uncertainty)


def _pair(pair: PairFindings, scale: Scale, of: Limb) -> list[str]:
    offset = scale.level(pair.offset_volts)
    sign = "-" if offset.startswith("-") and offset != "-" else "+"
    return [
        "The pair", "--------",
        f"{pair.second} = {with_uncertainty(pair.gain)} x {pair.first} {sign} "
        f"{offset.removeprefix('-') or '-'}   ({pair.relation})",
        f"worst mismatch  {with_uncertainty(pair.mismatch_max_percent, 2)} % of travel, at "
        f"{number(pair.mismatch_at_travel_percent, 0)} %",
        f"play            {with_uncertainty(pair.play_percent, 2)} % of travel between "
        f"{of.pressing} "
        "and releasing",
        *([f"on your targets {pair.mismatch_at_rest_percent:.2f} % of travel at rest"]
          if pair.mismatch_at_rest_percent is not None else []),
    ]


def _faults(findings: Findings, face: Face) -> list[str]:
    lines = ["Faults", "------"]
    if not findings.faults:
        return [*lines, {
            "sound": "None found.",
            "open": "None found in what was seen; what was not seen stands above.",
            "bad": "None found along the travel; what must be repaired stands above.",
        }[findings.state]]
    for fault in findings.faults[:MOST_FAULTS]:
        when = "all along" if fault.kind in UNDATED else f"{fault.time_s:7.2f} s"
        lines += wrapped(f"{when}  [{GRAVITY[fault.gravity]}] {fault.kind}: "
                          f"{fault_words(fault.why, face)}", "")
    more = len(findings.faults) - MOST_FAULTS
    if more > 0:
        lines.append(f"... and {more} more; "
                     f"{face.of('--json lists them all', 'the list of faults has them all')}.")
    return lines


def _returns(findings: Findings) -> list[str]:
    quick = [r.seconds for r in findings.return_times if r.quick]
    of = limb_of(findings.recording.pedal.use)
    title = f"Return after {of.lift_off}"
    lines = [title, "-" * len(title)]
    if not quick:
        return [*lines, f"No quick {of.lift_off} seen."]
    times = ", ".join(number(s, 2) for s in quick)
    return [*lines, *wrapped(
        f"{times} s; 49 CFR 571.124 S5.3 allows {findings.return_limit_s:g} s.", "")]


def _dead_band(band: DeadBand, told: dict[str, str], face: Face, of: Limb) -> list[str]:
    """Return one track's budget and promise; told: words -> the track they were told of."""
    promise = promise_values(band)
    title = f"Dead band of track {band.column}"
    lines = [title, "-" * len(title)]
    scale = Scale(band.ohms_per_volt)
    factor, unit = (1000.0, "mV") if band.ohms_per_volt is None else (band.ohms_per_volt, "ohm")
    for item in band.items:
        volts = ("?" if item.basis == NOT_KNOWN or not math.isfinite(item.volts) else
                 f"{factor * item.volts:.1f}")
        lines.append(f"{volts:>8} {unit}  {item.name} ({ground(item.basis, item.key_ons)})")
    whole = f"{factor * band.total_volts:.1f}" if math.isfinite(band.total_volts) else "?"
    lines.append(f"{whole:>8} {unit}  in all, from rest "
                 f"{scale.whole(band.rest_volts, 4)} {of.towards}")
    lines += [line for item in band.items if item.name == INPUT
              for line in wrapped(_once(in_words(item.why), band, told), "- ")]
    if band.weak is not None:
        lines += wrapped(f"NOT PROVEN: {_once(in_words(band.weak, face), band, told)}.", "")
    if math.isfinite(band.start_of_travel_volts):
        lines += wrapped(
            f"{'not proven: ' if band.weak else ''}release {scale.whole(stated(band)[0], 3)}, "
            f"start of travel {scale.whole(stated(band)[1], 3)}: costs "
            f"{number(band.lost_travel_percent, 2)} % of travel.", "")
    lines += [line for text in two_numbers(promise) for line in wrapped(text, "- ")]
    if band.weak is None:
        said = (f"{CONDITION}, at most {100 * band.risk:.2g} % chance "
                f"that any of the next {band.key_ons} key-ons passes it, and at most "
                f"{band.false_per_1000_h:.2g} noise crossings per 1000 h at key-on. "
                f"{conditions(promise, face)}")
        lines += wrapped(f"Promise: {_once(said, band, told)}."
                         f"{more_would_pay(promise, face, of)}", "")
    return lines


def _once(text: str, band: DeadBand, told: dict[str, str]) -> str:
    """Return the text without its full stop, or for which track it stands above."""
    first = told.setdefault(text, band.column)
    return text.rstrip(".") if first == band.column else f"as for track {first}"


def _remedies(findings: Findings, face: Face) -> list[str]:
    """Return what can be done about each track's rest; a reason that several share, once."""
    shared: dict[str, list[str]] = {}
    for column in findings.dead_bands:
        for remedy in findings.remedies.get(column, ()):
            shared.setdefault(in_words(remedy.why, face), []).append(f"{remedy.kind} of {column}")
    if not shared:
        return []
    lines = ["", REMEDIES, "-" * len(REMEDIES)]
    for why, ways in shared.items():
        lines += wrapped(f"{listed(ways)}: {why}", "- ")
    return lines
