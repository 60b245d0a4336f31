"""What a dead band promises, less what the sweep shows to be unknown or broken."""

from dataclasses import replace

from analysis.model.safe_rounding import safely_rounded
from analysis.pedal.dead_band import BudgetItem, DeadBand
from analysis.pedal.faults import Fault
from analysis.pedal.returns import WITHDRAWN
from analysis.pedal.tracks import TrackFindings
from analysis.statistics.returns_bound import HEADS, LAWS

NOT_KNOWN = "not known"
CONVERTER = "converter"


def kept(band: DeadBand, track: TrackFindings, faults: tuple[Fault, ...],
         doubt: str | None) -> DeadBand:
    """Return the dead band, its promise withdrawn when a fault shows that it would not hold.

    A converter whose step nobody knows is named so in the budget: its line is empty, not zero.
    """
    if track.step_volts <= 0:
        band = replace(band, items=tuple(map(_unknown, band.items)))
    if doubt is not None:
        # Which levels are meant is not known, so there is none to state.
        nan = float("nan")
        return replace(band, weak=doubt, weak_code=WITHDRAWN, release_volts=nan,
                       start_of_travel_volts=nan, lost_travel_percent=nan, cases=(),
                       not_covered=())
    creeps = [f for f in faults if f.kind == "not settled"]
    if creeps:
        nan = float("nan")
        return replace(band, weak=creeps[0].text, weak_code=WITHDRAWN, release_volts=nan,
                       start_of_travel_volts=nan, lost_travel_percent=nan, cases=(),
                       not_covered=())
    if band.weak is not None:
        return band
    stuck = [f for f in faults if f.kind == "no return"]
    slipped = [f for f in faults if f.kind == "step" and f.channel == band.column]
    apart = [f for f in faults if f.kind == "dead track" and f.channel is None]
    if apart:
        return replace(band, weak=(
            f"the tracks do not move together from {apart[0].time_s:.1f} s on, so nothing says "
            "which of them shows the pedal's rest; mend that and sweep again"))
    if stuck:
        return replace(band, weak=(
            f"the pedal did not come back {'once' if len(stuck) == 1 else f'{len(stuck)} times'}, "
            "by up to "
            f"{max(f.travel_percent for f in stuck):.0f} % of travel, which no dead band covers; "
            "mend that and sweep again"))
    if slipped:
        return replace(band, weak=(
            f"the track slipped at {slipped[0].time_s:.1f} s, so its rest is not settled; fasten "
            "it and sweep again"))
    return band


def conditions(band: DeadBand) -> str:
    """Return what the promise of a dead band rests on and what it does not cover, in words."""
    seen = "; ".join(band.not_covered)
    return f"It takes returns to follow {LAWS[band.law]}. Not covered: {seen}."


def two_numbers(band: DeadBand) -> tuple[str, ...]:
    """Return the start of travel under each law, with its price, the one chosen named; or ()."""
    return tuple(
        f"{HEADS[c.name]}: {level(band, c.start_of_travel_volts)} V, "
        f"{c.lost_travel_percent:.1f} % of travel"
        + (" (this one is stated)" if c.name == band.law else "")
        for c in band.cases if c.name != "wide" or band.law == "wide")


def more_would_pay(band: DeadBand) -> str:
    """Return what more lift-offs would save, one sentence after a space, or ""."""
    if not band.more_lift_offs:
        return ""
    return (f" {band.more_lift_offs} more lift-offs, {band.more_seconds:.0f} s: the dead band "
            f"falls from {band.lost_travel_percent:.1f} to about "
            f"{band.more_lost_travel_percent:.1f} % of travel (sweep --add-to).")


def level(band: DeadBand, volts: float) -> str:
    """Return a level in whole millivolts away from rest."""
    side = "up" if volts >= band.rest_volts else "down"
    return f"{safely_rounded(volts, 3, side):.3f}"


def _unknown(item: BudgetItem) -> BudgetItem:
    if item.name != CONVERTER:
        return item
    return replace(item, basis=NOT_KNOWN, why=(
        "the step of the converter is not known, so nothing is allowed for it; import the log "
        "with --step-volts, or ask for a margin"))
