"""By what kind of pedal a key-on log is judged, and what that kind asks of it.

The kind that the user states goes first, then that of the sweep whose values are judged, then what
the log's own header says.
"""

import numpy as np

from analysis.key_on.blocks import Blocks
from analysis.key_on.cycles import Span
from analysis.key_on.presses import TrackFacts
from analysis.model.errors import BadRecording
from analysis.model.finding import Finding, KeyOnCode
from analysis.model.pedal_kind import RECORDED, with_kind
from analysis.model.recording import Recording
from analysis.parameters import Parameters
from analysis.pedal.findings import Findings


def as_judged(recording: Recording, parameters: Parameters,
                sweep: Findings | None) -> Recording:
    """Return the log as if its header stated the kind that it is judged by.

    Raises BadRecording for a two-wire rheostat.
    """
    kind, use = parameters.pedal_kind, parameters.pedal_use
    swept = None if sweep is None else sweep.recording
    if swept is not None and (swept.pedal.stated or recording.pedal.stated):
        kind = swept.pedal.kind if kind == RECORDED else kind
        use = swept.pedal.use if use == RECORDED else use
    made = with_kind(recording, kind, use)
    if made.rheostat is not None:
        # The controller's own resistor makes its volts, and no log says which.
        raise BadRecording("log of a rheostat")
    return made


def kind_findings(log: Recording, judged: Recording, parameters: Parameters,
                  sweep: Findings | None) -> tuple[Finding, ...]:
    """Return that the log says another kind of pedal than the sweep, by which it is judged.

    log: as its header has it. judged: as `as_judged` has it.
    """
    said, by = log.pedal, judged.pedal
    if (sweep is None or parameters.pedal_kind != RECORDED or not said.stated
            or said.kind == by.kind):
        return ()
    return (Finding("another kind of pedal", 2, "log", values={
        "log_kind": said.kind, "sweep_kind": by.kind,
        "sweep_stated": sweep.recording.pedal.stated}),)


def moving_supply(recording: Recording, blocks: Blocks, spans: tuple[Span, ...],
                  facts: tuple[TrackFacts, ...], parameters: Parameters) -> tuple[Finding, ...]:
    """Return that the supply moved more than allowed, where sensor and controller part.

    A controller that measures by its supply reads a sensor that keeps its volts as volts / supply,
    so a supply that sags lifts a rising track; one that measures in volts reads a sensor that
    follows its supply as share * supply, so a supply that rises lifts it. The log's own scale shows
    neither. Only where the supply was logged.
    """
    follows, by_it = recording.pedal.ratiometric, parameters.ratiometric_controller
    if follows == by_it or recording.supply is None:
        return ()
    volts = blocks.measured[recording.supply.column]
    seen = np.concatenate([np.zeros(0), *(
        volts[blocks.between(s.on_row, s.off_row)] for s in spans)])
    seen = seen[seen > 0.5 * recording.nominal_volts]
    if not seen.size:
        return ()
    nominal, tolerance = recording.nominal_volts, parameters.supply_tolerance
    low, high = float(seen.min()), float(seen.max())
    off = allowed = 0.0
    for fact in facts:
        # Towards pressed is up for a rising track.
        ends = ((low, 1.0 - tolerance) if (fact.sign > 0) != follows else (high, 1.0 + tolerance))
        worst, may = (fact.sign * ((e if follows else 1.0 / e) - 1.0)
                      for e in (ends[0] / nominal, ends[1]))
        if worst - may > off - allowed:
            off, allowed = worst, may
    if off <= allowed:
        return ()
    code: KeyOnCode = "supply moves the readings" if follows else "supply moves a fixed sensor"
    return (Finding(code, 2, "supply", values={
        "lowest_volts": low, "highest_volts": high, "off_percent": 100.0 * off,
        "allowed_percent": 100.0 * allowed}),)
