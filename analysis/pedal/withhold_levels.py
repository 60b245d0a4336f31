"""What a dead band promises, less what the sweep shows to be unknown or broken."""

from dataclasses import replace

from analysis.model.finding import OHMS_PER_VOLT, Reason, Value
from analysis.pedal.dead_band import BudgetItem, DeadBand
from analysis.pedal.faults import Fault
from analysis.pedal.returns import WITHDRAWN
from analysis.pedal.tracks import TrackFindings

NOT_KNOWN = "not known"
CONVERTER = "converter"


def kept(band: DeadBand, track: TrackFindings, faults: tuple[Fault, ...],
         doubt: Reason | None) -> DeadBand:
    """Return the dead band, its promise withdrawn when a fault shows that it would not hold.

    A converter whose step nobody knows is named so in the budget: its line is empty, not zero.
    """
    if track.step_volts <= 0:
        band = replace(band, items=tuple(map(_unknown, band.items)))
    creeps = [f for f in faults if f.kind == "not settled"]
    if doubt is not None or creeps:
        # Which levels are meant is not known, so there is none to state.
        nan = float("nan")
        return replace(band, weak=doubt if doubt is not None else creeps[0].why,
                       weak_code=WITHDRAWN, release_volts=nan, start_of_travel_volts=nan,
                       lost_travel_percent=nan, cases=(), not_covered=())
    if band.weak is None:
        return replace(band, weak=_broken(band, track, faults))
    return band


def _broken(band: DeadBand, track: TrackFindings, faults: tuple[Fault, ...]) -> Reason | None:
    """Return what of the sweep shows that the promise would not hold; None for nothing."""
    stuck = [f for f in faults if f.kind == "no return"]
    slipped = [f for f in faults if f.kind == "step" and f.channel == band.column]
    apart = [f for f in faults if f.kind == "dead track" and f.channel is None]
    if apart:
        return Reason("tracks part", {"time_s": apart[0].time_s})
    if stuck:
        return Reason("no return", {
            "times": len(stuck), "travel_percent": max(f.travel_percent for f in stuck)})
    if slipped:
        return Reason("track slipped", {"time_s": slipped[0].time_s})
    sign = 1.0 if track.direction == "rising" else -1.0
    if sign * (track.rest_furthest_volts - band.start_of_travel_volts) > 0.0:
        return Reason("passed at rest", {
            "volts": track.rest_furthest_volts, "time_s": track.rest_furthest_s,
            "start_volts": band.start_of_travel_volts})
    return None


def promise_values(band: DeadBand) -> dict[str, Value]:
    """Return what the promise of a dead band rests on, its price under each law, what is open."""
    told: dict[str, Value] = ({} if band.ohms_per_volt is None else
                              {OHMS_PER_VOLT: band.ohms_per_volt})
    return {
        **told,
        "lost_travel_percent": band.lost_travel_percent, "rest_volts": band.rest_volts,
        "law": band.law, "not_covered": band.not_covered,
        "cases": tuple(Reason(c.name, {
            "start_of_travel_volts": c.start_of_travel_volts,
            "lost_travel_percent": c.lost_travel_percent}) for c in band.cases),
        "more_lift_offs": band.more_lift_offs, "more_seconds": band.more_seconds,
        "more_lost_travel_percent": band.more_lost_travel_percent}


def _unknown(item: BudgetItem) -> BudgetItem:
    if item.name != CONVERTER:
        return item
    return replace(item, basis=NOT_KNOWN, why=Reason("step not known"))
