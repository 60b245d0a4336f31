"""What a proof's log shows, as one word and what made it so: proved, failed or open.

Nothing that was not seen counts as proved: a lead that was not opened, a consumer that was not
switched, a box that was not warmed leave their proof open.
"""

from dataclasses import dataclass, replace

from analysis.model.recording import Recording
from analysis.pedal.findings import Findings
from analysis.proof.alive import tracks_unseen
from analysis.proof.drive import Drive, judge_drive
from analysis.proof.limits import Limits, TrackLimits
from analysis.proof.loads import Load, judge_loads
from analysis.proof.opened import WireLog, judge_wires
from analysis.proof.shaken import ShakeLog, judge_shaking
from analysis.proof.steps import GROUND, SUPPLY, steps_of, tracks_behind
from analysis.proof.warmed import TrackWarmth, judge_warmth
from analysis.signal.supply import supply_doubt

# Which kinds of step a proof's log must hold.
KINDS = {"wires": ("open", "short"), "shake": ("shake",), "warm": ("warm", "cool"),
         "loads": ("load",), "drive": ("drive",)}


@dataclass(frozen=True)
class Outcome:
    """Hold what a proof's log shows. state: "proved", "failed" or "open".

    because: codes of what made it so; of a proved one only what a person's word alone stands for
    ("word NAME"). Only its own task's result is there.
    """

    task: str
    state: str
    because: tuple[str, ...] = ()
    wires: WireLog | None = None
    shake: ShakeLog | None = None
    warmth: tuple[TrackWarmth, ...] = ()
    loads: tuple[Load, ...] = ()
    drive: Drive | None = None


def limits_of(findings: Findings) -> Limits:
    """Return the limits that a sweep's settings give; NaN where none was issued."""
    by_track: dict[str, dict[str, float]] = {}
    for setting in findings.settings:
        if setting.channel is not None:
            by_track.setdefault(setting.channel, {})[setting.name] = setting.value
    parameters = findings.parameters
    tracks = {}
    for name, track in findings.tracks.items():
        own = by_track.get(name, {})
        tracks[name] = TrackLimits(
            track.rest.value, track.full.value, own.get("start_of_travel", float("nan")),
            own.get("fault_low", float("nan")), own.get("fault_high", float("nan")))
    return Limits(tracks, parameters.mismatch_limit_percent, max(parameters.mismatch_time_s, 0.01))


def judge_file(recording: Recording, task: str, limits: Limits,
               power: str | None = None) -> Outcome:
    """Return what a log shows of one task; open where it holds no step of it."""
    # A log of a single row, or whose time stands still, shows nothing of any step.
    if not recording.step_s > 0.0 or not any(
            s.kind in KINDS[task] for s in steps_of(recording)):
        return Outcome(task, "open", ("no such step",))
    found = _judged(recording, task, limits, power)
    if found.state == "proved" and supply_doubt(recording) is not None:
        # Every level is a ratio to it: an input at 0 V, or another supply, proves nothing.
        return replace(found, state="open", because=("supply in doubt", *found.because))
    return found


def _judged(recording: Recording, task: str, limits: Limits, power: str | None) -> Outcome:
    """Return what a log shows of one task if its supply is what it is taken for."""
    if task == "wires":
        # Each wire opened has to show a change of its own track there.
        return _wires(judge_wires(recording, limits, power), limits)
    if task == "shake":
        found = _shake(judge_shaking(recording))
    elif task == "warm":
        found = _warm(judge_warmth(recording, limits))
    elif task == "loads":
        found = _loads(judge_loads(recording, limits))
    else:
        found = _drive(judge_drive(recording, limits, power=power))
    unseen = tracks_unseen(recording, limits, KINDS[task], task != "drive")
    if unseen and found.shake is not None:
        # A track that shows nothing shows no loss either, of none of the leads that it hangs on.
        names = tuple(limits.tracks)
        found = replace(found, shake=replace(found.shake, leads=tuple(
            replace(x, state="not shaken")
            if x.state == "holds" and set(tracks_behind(x.lead, names)) & set(unseen)
            else x for x in found.shake.leads)))
    if not unseen or found.state == "failed":
        return found
    return replace(found, state="open", because=tuple(dict.fromkeys(
        (*(f"unseen {t}" for t in unseen), *found.because))))


def _drive(drive: Drive) -> Outcome:
    state = {"holds": "proved", "passes": "failed"}.get(drive.state, "open")
    return Outcome("drive", state, () if state == "proved" else (f"drive {drive.state}",),
                   drive=drive)


def _wires(log: WireLog, limits: Limits) -> Outcome:
    """Proved when every track, the supply and the ground were opened and power stopped each time.

    A wire tried again counts by its newest try, but a failure stands: nothing was mended within one
    log, and power that stays on once in two tries is no pass.
    """
    newest = {s.step.mark: s for s in log.steps}
    failed = list({s.step.mark: s for s in log.steps if s.verdict == "fail"}.values())
    needed = {f"open {lead}" for lead in (*limits.tracks, SUPPLY, GROUND)}
    passed = {mark for mark, s in newest.items() if s.verdict == "pass"}
    # A leg of one track's own stands for its share of the shared one.
    for leg in (SUPPLY, GROUND):
        if all(f"open {leg} {t}" in passed for t in limits.tracks):
            passed.add(f"open {leg}")
    missing = sorted(needed - passed - {s.step.mark for s in failed})
    # Two tracks that read alike show no short between them; no trial can, and none is asked for.
    unseen = [s.step.mark for s in newest.values()
              if s.verdict == "not seen" and s.step.kind != "as wired"
              and not (s.step.kind == "short" and s.code == "nothing changed")]
    if failed:
        return Outcome("wires", "failed", tuple(s.step.mark for s in failed), wires=log)
    left = tuple(dict.fromkeys((*missing, *unseen)))
    return Outcome("wires", "open" if left else "proved", left, wires=log)


def _shake(log: ShakeLog) -> Outcome:
    loose = tuple(x.lead for x in log.leads if x.state == "loose")
    unseen = tuple(x.lead for x in log.leads if x.state == "not shaken")
    if loose:
        return Outcome("shake", "failed", loose, shake=log)
    if log.unexplained:
        unseen = (*unseen, "unexplained")
    return Outcome("shake", "open" if unseen else "proved", unseen, shake=log)


def _warm(tracks: tuple[TrackWarmth, ...]) -> Outcome:
    unseen = tuple(t.column for t in tracks if t.volts_per_kelvin is None)
    return Outcome("warm", "open" if unseen or not tracks else "proved", unseen, warmth=tracks)


def _loads(loads: tuple[Load, ...]) -> Outcome:
    passed = tuple(x.name for x in loads if x.state == "passes")
    unseen = tuple(x.name for x in loads if x.state in ("not seen", "not shown"))
    if passed:
        return Outcome("loads", "failed", passed, loads=loads)
    said = tuple(f"word {x.name}" for x in loads if x.state == "by word")
    return Outcome("loads", "open" if unseen else "proved", (*unseen, *said), loads=loads)
