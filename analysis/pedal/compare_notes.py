"""What weakens a comparison of two sweeps, and what it rests on beside its differences."""

import math

from analysis.model.finding import Reason
from analysis.model.recording import Recording
from analysis.pedal.dead_band import DeadBand
from analysis.pedal.findings import Findings


def two_boards(before: Recording, after: Recording) -> bool:
    """Return whether two boards read them; a board without a name is known by its converter.

    Its port stands in for the name then, and the next plug may get another port.
    """
    ports = [r.extra.get("board") for r in (before, after)]
    named = [r.board_name for r, port in zip((before, after), ports, strict=True)
             if r.board_name and not (isinstance(port, dict) and r.board_name == port.get("port"))]
    if len(named) == 2:
        return named[0] != named[1]
    scales = [{(c.unit, c.full_scale, c.reference_volts) for c in r.with_role("track")}
              for r in (before, after)]
    return len(named) == 1 or scales[0] != scales[1]


def comparison_notes(before: Findings, after: Findings) -> tuple[Reason, ...]:
    """Return what weakens a comparison, and both starts of travel under each law."""
    notes = []
    for which, here, there in (("first", before, after), ("second", after, before)):
        only = tuple(name for name in here.tracks if name not in there.tracks)
        if only:
            notes.append(Reason("track in one only", {"recording": which, "tracks": only}))
    unknown = tuple(name for name, band in after.dead_bands.items()
                    if not math.isfinite(band.start_of_travel_volts))
    if unknown:
        notes.append(Reason("no later dead band", {"tracks": unknown}))
    volts = before.recording.nominal_volts, after.recording.nominal_volts
    if volts[0] != volts[1]:
        notes.append(Reason("two nominal supplies", {
            "before_volts": volts[0], "after_volts": volts[1]}))
    if two_boards(before.recording, after.recording):
        notes.append(Reason("two boards"))
    if any(not t.supply_recorded for f in (before, after) for t in f.tracks.values()):
        notes.append(Reason("supply not recorded each time"))
    for name, band in after.dead_bands.items():
        old = before.dead_bands.get(name)
        if old is not None and old.cases and band.cases:
            notes.append(_under_each_law(old, band))
    return tuple(notes)


def _under_each_law(old: DeadBand, new: DeadBand) -> Reason:
    """Return both starts of travel under every law that later returns may follow."""
    known = {c.name: c for c in old.cases}
    return Reason("start under each law", {
        "track": new.column, "law": new.law, "before_law": old.law,
        "before_rest_volts": old.rest_volts, "after_rest_volts": new.rest_volts,
        "cases": tuple(Reason(c.name, {
            "before_volts": known[c.name].start_of_travel_volts,
            "after_volts": c.start_of_travel_volts}) for c in new.cases if c.name in known)})
