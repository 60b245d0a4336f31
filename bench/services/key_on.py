"""Log in the car at key-on, find out what the log shows, and issue a sweep's values with it.

Every log is judged by `judge` and every value issued by `issue`, whoever asks: what one face
shows of a sweep and a log, the other does too, word for word.
"""

import shutil
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from analysis.key_on import KeyOnFindings, analyse_key_on
from analysis.key_on.car import contactor_of
from analysis.key_on.with_values import allowance_of, said_with_values
from analysis.model.errors import BadRecording, NoKeyOn
from analysis.model.finding import Finding, Reason
from analysis.model.pedal_kind import KIND_KEY, KINDS, RECORDED, USE_KEY, USES
from analysis.model.recording import Channel, Recording
from analysis.parameters import TABLE, Parameters
from analysis.pedal.findings import Findings, decide
from analysis.pedal.settings import Setting
from bench.acquisition.boards.board import Board
from bench.acquisition.key_on_logger import HOW, OFF_S, ON_S, STARTS, Capture, LoggerOptions
from bench.acquisition.listener import Listener
from bench.acquisition.recorder import Recorder
from bench.errors import BadCall
from bench.files.exports.brief_key_on import brief_key_on
from bench.files.exports.key_on_json import key_on_json
from bench.files.exports.key_on_text import key_on_text
from bench.files.recording_file import read_recording
from bench.services.findings import assuming, open_findings, refuse_other_kind
from bench.services.record import Order, Recorded, record
from bench.services.warmth import warmed
from bench.wording.key_on_sentences import allowance
from bench.wording.shell_quote import reader_of

__all__ = [
    "HOW", "OFF_S", "ON_S", "STARTS", "Capture", "KeyOnFindings", "LoggerOptions", "bound_stands",
    "brief_key_on", "disk_left", "entered_settings", "fails", "issue", "judge", "judged_by",
    "key_on_json", "key_on_text", "new_capture", "open_in_car", "open_key_on", "pedal_of",
    "pedal_of_log", "watch",
]

# Kind and use of a pedal.
Said = tuple[str | None, str | None]
# What a user may enter by hand; the unit of all of them is volts.
ENTERED = ("rest", "start_of_travel", "release", "full_travel")


def new_capture(order: Order, parameters: LoggerOptions,
                say: Callable[[str], None] = lambda text: None,
                settings: Sequence[Setting] = ()) -> Capture:
    """Return the capture of a log that goes where the order says; raise BadFile if it cannot.

    settings: what it will be judged by; a board without their tracks is refused, unlogged.
    Raise BadRecording for a pedal whose log cannot be judged.
    """
    if order.kind == "rheostat":
        raise BadRecording("log of a rheostat")
    return Capture(order.place(), order.title, parameters, say,
                   lambda source: refuse_unknown(settings, source.channels), order.numbered,
                   order.said)


def watch(board: Board, order: Order, capture: Capture, listeners: Sequence[Listener] = (),
          until: Callable[[Recorder], None] | None = None) -> Recorded:
    """Log until the parameters, the board or the user (Ctrl-C) ends it; return what came of it."""
    return record(board, replace(order, purpose="key-on"), listeners, None, until, capture)


def pedal_of_log(sweep: str | Path | None, parameters: Parameters) -> Said:
    """Return the kind and use of the pedal that a log's header is to state, None for neither.

    As the parameters state it, else as the header of the sweep does. Raise BadFile as reading that
    does, OtherKind when it is no sweep: before anything is logged that it could not judge.
    """
    said: dict[str, object] = {}
    if sweep is not None:
        recording = read_recording(sweep)
        refuse_other_kind(recording, sweep)
        said |= recording.extra
    said |= {key: word for key, word in (
        (KIND_KEY, parameters.pedal_kind), (USE_KEY, parameters.pedal_use)) if word != RECORDED}
    return pedal_of(said)


def pedal_of(extra: Mapping[str, object]) -> Said:
    """Return the kind and use that a header states, None where it does not."""
    kind, use = extra.get(KIND_KEY), extra.get(USE_KEY)
    return str(kind) if kind in KINDS else None, str(use) if use in USES else None


def disk_left(path: Path) -> int:
    """Return the free bytes on the disk that holds this file; -1 when it cannot be told."""
    try:
        return shutil.disk_usage(path.resolve().parent).free
    except OSError:
        return -1


def entered_settings(texts: Sequence[str]) -> tuple[Setting, ...]:
    """Return settings from texts such as "a.start_of_travel=0.82"; raise BadCall otherwise."""
    result = []
    for text in texts:
        name, equals, value = text.partition("=")
        channel, dot, setting = name.strip().rpartition(".")
        try:
            volts = float(value)
        except ValueError:
            volts = float("nan")
        if not equals or not dot or setting not in ENTERED or not abs(volts) <= 60:
            raise BadCall(f"--entered {text!r}; write TRACK.NAME=VOLTS with one of "
                          f"{', '.join(ENTERED)}, for example a.start_of_travel=0.82")
        result.append(Setting(setting, channel, volts, "V", Reason("entered")))
    return tuple(result)


def refuse_unknown(settings: Sequence[Setting], channels: Sequence[Channel]) -> None:
    """Raise BadCall for a setting of a track that is not among the channels."""
    tracks = [c.column for c in channels if c.role == "track"]
    for setting in settings:
        if setting.channel not in tracks:
            there = f"the tracks are {', '.join(tracks)}" if tracks else "there is no track at all"
            raise BadCall(f"--entered {setting.channel}.{setting.name}: no track "
                          f"{setting.channel!r}; {there}")


def open_key_on(
    path: str | Path,
    parameters: Parameters | None = None,
    settings: Sequence[Setting] = (),
    sweep: str | Path | None = None,
    contactor: str | None = None,
) -> KeyOnFindings:
    """Return what a key-on log shows; with the sweep of the same pedal, settings anew.

    contactor: what the user states of a log whose header does not.
    Raise BadFile for a file that is no whole recording, else as `judge` does.
    """
    swept = None if sweep is None else open_findings(sweep, parameters)
    return judge(read_recording(path), path, parameters, settings, swept, contactor)


def open_in_car(sweep: str | Path, log: str | Path, parameters: Parameters | None = None,
                contactor: str | None = None, warm: str | Path | None = None) -> Findings:
    """Return the findings of a sweep, its values issued anew with what a key-on log says.

    The same values as `open_key_on` issues with this sweep. warm: a log whose measured drift with
    temperature they go by. Raise as that and `issue` do.
    """
    swept = warmed(open_findings(sweep, parameters), warm)
    return issue(swept, judge(read_recording(log), log, parameters, swept=swept,
                              contactor=contactor), log)


def judge(recording: Recording, path: str | Path | None, parameters: Parameters | None = None,
          settings: Sequence[Setting] = (), swept: Findings | None = None,
          contactor: str | None = None) -> KeyOnFindings:
    """Return what a key-on log shows, judged by entered settings, by a sweep, or by both.

    path: of the log, None when it lies nowhere. swept: with whatever allowance and parameters it
    was decided; the log is judged by what the sweep alone gives with `parameters`. contactor:
    "open" or "closed", stated of a log whose header does not say.
    Raise BadCall for a contactor that is not what the header says, for settings of no track, and
    for a recording of something else without a key-on; AnalysisError when nothing can be said.
    """
    refuse_unknown(settings, recording.channels)
    written, _ = contactor_of(recording)
    if None not in (contactor, written) and contactor != written:
        raise BadCall(f"--contactor {contactor}, but {path} was logged with it {written}; leave "
                      "the option out, or log again")
    if swept is not None and (swept.car or parameters not in (None, swept.parameters)):
        swept = assuming(swept, parameters or swept.parameters)
    try:
        return analyse_key_on(recording, parameters, settings, swept, contactor)
    except NoKeyOn as error:
        if recording.purpose != "key-on":
            raise BadCall(f"{path} is a {recording.purpose} and no key-on log, and no key-on is "
                          f"in it; use {reader_of(recording.purpose, path or 'FILE')}") from error
        raise


def bound_stands(found: KeyOnFindings, swept: Findings | None) -> bool:
    """Return whether what a log says of its car still holds: this sweep, and this bound."""
    return (swept is not None and found.swept is swept.recording
            and all(getattr(found.parameters, n) == getattr(swept.parameters, n)
                    for n, row in TABLE.items() if row.judges_log))


def judged_by(found: KeyOnFindings, swept: Findings | None) -> bool:
    """Return whether a log was judged by this sweep with its parameters as they are."""
    return (swept is not None and found.swept is swept.recording
            and found.parameters == swept.parameters)


def issue(swept: Findings, found: KeyOnFindings, log: str | Path) -> Findings:
    """Return the findings of a sweep, its values issued anew with what a judged log says.

    log: the log's file, for its name. What has to be known of the log goes with the values, so
    that every sheet made of them carries it.
    Raise BadCall when the log was not judged by this sweep as it is, carries no allowance for
    every track, or passed the very values issued with it.
    """
    if not judged_by(found, swept):
        raise BadCall("This log was not judged by the sweep on show; judge it by that first.")
    if not found.issued:
        again = "Log again" + ("" if found.verdict.applied else ", or leave --key-on out")
        raise BadCall(f"no values can be issued with {log}: {allowance(found)} {again}")
    if found.passed:
        raise BadCall(f"readings of {log} passed the start of travel issued with it for track "
                      f"{', '.join(found.passed)}; find what lifts them and log again")
    decided = decide(swept, found.parameters, found.car, said_with_values(found, Path(log).name))
    return replace(decided, notes=(
        *decided.notes, Finding("allowance for the car", 0, "log", values={
            "log": Path(log).name, **allowance_of(found)})))


def fails(findings: "KeyOnFindings") -> bool:
    """Return whether the sweep forbids driving, or the log does not show a pedal free of power.

    It does not when power, or brake with pedal, came in it, when noise would pass the values too
    often, or when a track of it was not judged all the time.
    """
    from analysis.evidence.key_on import key_on_claims, shows_no_power

    return (bool(findings.forbidding) or not shows_no_power(key_on_claims(findings))
            or findings.verdict.applied is not False
            or bool(findings.noisy) or bool(findings.brake_events))
