"""The budget of what can lift a rest reading, and the dead band that covers it.

Random parts share the allowed risk, systematic parts add up; every formula with its source is
in docs/method_deadband.md.
"""

from dataclasses import dataclass, replace

import numpy as np

from analysis.model.finding import Reason, SweepCode
from analysis.model.safe_rounding import safely_rounded
from analysis.parameters import Parameters
from analysis.pedal.at_controller import InputReach
from analysis.pedal.budget_item import BudgetItem as BudgetItem
from analysis.pedal.budget_item import CarAddition as CarAddition
from analysis.pedal.budget_item import ground_of
from analysis.pedal.car_returns import installed
from analysis.pedal.dead_band_weak import ADVISED_RETURNS, LEAST_RETURNS, noise_unknown, why_weak
from analysis.pedal.drift import drift_seen
from analysis.pedal.returns import WITHDRAWN, Returns, judge_returns, not_covered, offer_more
from analysis.pedal.tracks import TrackFindings
from analysis.pedal.warmth_line import MeasuredDrift, warmth_item
from analysis.statistics import bounds
from analysis.statistics.returns_bound import LAWS

# Fewer returns are no last look: they have half the risk, so that lift-offs added to them keep it.
LAST_LOOK_RETURNS = 10
# Noise gets this share of the allowed risk, the returns the rest: a level crossing hardly feels
# the share (6.8 becomes 7.3 standard deviations), a bound from ten returns does.
NOISE_SHARE = 0.02
# Of the allowed risk this share goes to what a key-on log measured of the car, where there is one.
CAR_SHARE = 0.5
# Upcrossings of the mean by noise too small to see its speed: a reading each millisecond,
# every other one higher, is the most a controller at 1 kHz can count.
UNSEEN_UPCROSSINGS_PER_S = 500.0
# Hysteresis: held exactly between both levels for so long, noise switches less than once.
CHATTER_SECONDS = 1.0
LEAST_HYSTERESIS_STEPS = 2.0
# More lift-offs are offered when they save so much of travel (common practice, no source).
WORTH_PERCENT = 0.3
SIGMA_CONFIDENCE = 0.95
NOISE = "electrical noise"
SCATTER = "scatter of returns"
CAR = "what the car adds"
INPUT = "what the controller's input adds"


@dataclass(frozen=True)
class ScatterCase:
    """Hold the dead band if later returns follow one law: its line, level and price.

    name: "even", "stick" or "wide"; volts: the line "scatter of returns".
    """

    name: str
    volts: float
    start_of_travel_volts: float
    lost_travel_percent: float


@dataclass(frozen=True)
class DeadBand:
    """Hold the dead band of one track; volts at nominal supply, budget positive towards pressed.

    release_volts: every rest level, noise left out, stays on the rest side of it, so power
        always ends; a reading in a thousand may lie beyond it without harm.
    start_of_travel_volts: rest and the whole budget; beyond it the pedal counts as pressed.
        The hysteresis between both lies within the room that the budget keeps for noise.
    lost_travel_percent: (start of travel - rest) / span.
    risk: chance, at most, that any reading at rest of `key_ons` later key-ons passes start of
        travel, or that the level of one passes release.
    false_per_1000_h: expected noise crossings of start of travel per 1000 key-on hours, at most.
    weak: None, or why the data do not carry the promise. When the levels could not be stated at
        all they are NaN and total_volts is inf. weak_code: which finding it is.
    law: of the scatter, a word of `LAWS`, that the promise assumes. cases: the dead band under
        each of them. not_covered: what no number of such returns can tell.
    more_lift_offs, more_seconds, more_lost_travel_percent: how many more would pay, the time they
        take, and about what the dead band then costs; 0 when they would not.
    ohms_per_volt: of a rheostat, whose volts stand for ohms; None of another pedal.
    """

    column: str
    rest_volts: float
    items: tuple[BudgetItem, ...]
    total_volts: float
    release_volts: float
    start_of_travel_volts: float
    lost_travel_percent: float
    confidence: float
    risk: float
    key_ons: int
    key_on_hours: float
    false_per_1000_h: float
    weak: Reason | None
    weak_code: SweepCode = WITHDRAWN
    law: str = "stick"
    cases: tuple[ScatterCase, ...] = ()
    not_covered: tuple[Reason, ...] = ()
    more_lift_offs: int = 0
    more_seconds: float = 0.0
    more_lost_travel_percent: float = float("nan")
    ohms_per_volt: float | None = None


@dataclass(frozen=True)
class Noise:
    """Hold the electrical noise a bound may rest on: standard deviation and speed, both upper.

    sigma: volts, inf when too little rest was seen; slope: 1/s, as TrackFindings.crossing_slope.
    """

    sigma: float
    slope: float

    def level(self, hours: float, allowed: float) -> float:
        """Return the volts above the mean that noise crosses `allowed` times in those hours."""
        if not np.isfinite(self.sigma):
            return float("inf")
        return bounds.crossing_level(self.sigma, self.slope, hours, allowed)


def stated(band: DeadBand) -> tuple[float, float]:
    """Return release and start of travel as stated everywhere: whole mV, away from rest."""
    side = "up" if band.start_of_travel_volts >= band.rest_volts else "down"
    return (safely_rounded(band.release_volts, 3, side),
            safely_rounded(band.start_of_travel_volts, 3, side))


def sign_of(track: TrackFindings) -> float:
    """Return +1 for a track that rises as the pedal is pressed, -1 for one that falls."""
    return 1.0 if track.direction == "rising" else -1.0


def noise_of(track: TrackFindings) -> Noise:
    """Return the noise at rest that bounds may rest on.

    The rms reading without what rounding adds, raised to its upper confidence bound for the
    number of independent readings in the rests, 2 slope / pi per second (all readings when they
    are independent; 100 per second when the noise is too small to tell).
    """
    slope = track.crossing_slope
    if not np.isfinite(slope) or slope <= 0:
        slope = 2.0 * np.pi * UNSEEN_UPCROSSINGS_PER_S
    if noise_unknown(track) is not None:
        return Noise(float("inf"), slope)
    sigma = bounds.noise_behind_steps(track.noise_volts, track.step_volts)
    seen = track.crossing_slope if np.isfinite(track.crossing_slope) else 100.0
    degrees = max(2.0 * seen / np.pi * track.rest_seconds - 1.0, 1.0)
    return Noise(bounds.sd_upper(sigma, degrees, SIGMA_CONFIDENCE), slope)


def supply_error(
    track: TrackFindings, parameters: Parameters, volts: float
) -> tuple[float, Reason]:
    """Return how far the supply may move a reading of so many volts, and why."""
    recorded, ratiometric = track.supply_recorded, parameters.ratiometric_controller
    if parameters.pedal_kind == "hall-fixed":
        # It keeps its volts, but no ratio takes out what the bench measured them by: its board's
        # reference may be high by the tolerance, and the supply that a controller measures by low.
        own = parameters.supply_tolerance
        if ratiometric:
            own = (1.0 + own) / (1.0 - own) - 1.0
        return float(own * abs(volts)), Reason("sensor keeps its volts", {
            "ratiometric": ratiometric, "share": own, "volts": abs(volts)})
    if recorded and (ratiometric or parameters.pedal_kind == "rheostat"):
        return 0.0, Reason("supply recorded")
    if parameters.pedal_kind == "rheostat":
        return _supply_of_rheostat(track, parameters, volts)
    share = parameters.supply_tolerance
    if not recorded and not ratiometric:
        # The bench's supply may be low by the tolerance and the car's high by it.
        share = (1.0 + share) / (1.0 - share) - 1.0
    return float(share * abs(volts)), Reason("supply may differ", {
        "recorded": recorded, "ratiometric": ratiometric, "share": share, "volts": abs(volts)})


def _supply_of_rheostat(track: TrackFindings, parameters: Parameters,
                        volts: float) -> tuple[float, Reason]:
    """Return what a supply taken as nominal may make of its ohms: R = known v / (supply - v).

    A supply that is off by a share moves R by that share of R (R + known) / known.
    """
    per_volt = 2.0 * parameters.track_ohms / track.nominal_volts
    whole = per_volt * abs(volts) + parameters.rheostat_series_ohms
    known, share = parameters.rheostat_known_ohms, parameters.supply_tolerance
    off = share * whole * (1.0 + whole / known) / per_volt
    return off, Reason("supply of a rheostat", {"share": share, "volts": abs(volts),
                                                "off_volts": off, "known_ohms": known})


def budget(track: TrackFindings, parameters: Parameters, car: CarAddition | None = None,
           reach: InputReach | None = None,
           warmth: MeasuredDrift | None = None) -> tuple[BudgetItem, ...]:
    """Return what can lift the rest reading of a track, largest unknowns first.

    Volts at nominal supply, towards pressed; inf where the data do not carry a bound.
    car: what a key-on log measured; without it the allowance of the parameters stands, as assumed.
    reach: what the controller's input may do to the track; None where the track is read as it is.
    warmth: what a warm log measured; without it the drift is stated or assumed.
    """
    return _budget(track, parameters, car, returns_of(track, parameters, car), reach, warmth)


def _budget(track: TrackFindings, parameters: Parameters, car: CarAddition | None,
            seen: Returns | None, reach: InputReach | None,
            warmth: MeasuredDrift | None) -> tuple[BudgetItem, ...]:
    risk = 1.0 - parameters.confidence
    if _car(parameters, car).basis == "measured":
        risk *= 1.0 - CAR_SHARE
    noise = noise_of(track).level(parameters.key_on_hours, NOISE_SHARE * risk)
    supply, supply_why = supply_error(track, parameters, track.rest.value)
    converter = parameters.converter_error_steps * track.step_volts
    returns = _returns(track, parameters, seen)
    return (
        *returns,
        BudgetItem(
            NOISE, noise, "measured",
            noise_unknown(track) or Reason("noise at rest", {
                "rms_volts": track.noise_volts, "crossings": NOISE_SHARE * risk,
                "key_on_hours": parameters.key_on_hours})),
        BudgetItem(
            "supply", supply,
            "measured" if supply == 0 else ground_of(parameters, "supply_tolerance"), supply_why),
        warmth_item(parameters, track.nominal_volts, warmth),
        BudgetItem(
            "converter", converter, ground_of(parameters, "converter_error_steps"),
            Reason("converter", {"steps": parameters.converter_error_steps,
                                 "step_volts": track.step_volts})),
        _car(parameters, car),
        *_input(track, parameters, car, reach, sum(i.volts for i in returns)),
        BudgetItem("your margin", parameters.margin_volts, ground_of(parameters, "margin_volts"),
                   Reason("margin", {"volts": parameters.margin_volts})),
    )


def dead_band(
    track: TrackFindings, parameters: Parameters, car: CarAddition | None = None,
    reach: InputReach | None = None, warmth: MeasuredDrift | None = None,
) -> DeadBand:
    """Return the dead band of a track: its budget, release and start of travel.

    car, reach, warmth: as of `budget`. Too few returns or too short rests give NaN levels and a
    reason in `weak`, never a guess.
    """
    seen = returns_of(track, parameters, car)
    items = _budget(track, parameters, car, seen, reach, warmth)
    total = float(sum(item.volts for item in items))
    noise = noise_of(track)
    hysteresis = max(LEAST_HYSTERESIS_STEPS * track.step_volts,
                     2.0 * noise.level(CHATTER_SECONDS / 3600.0, 1.0))
    known = bool(np.isfinite(total) and np.isfinite(track.rest.value))
    sign, rest = sign_of(track), track.rest.value
    # All items but noise bound the level that rest may take; above it, room for noise and for
    # the hysteresis, whichever is more. Release lies the hysteresis below start of travel.
    room = max(next(i.volts for i in items if i.name == NOISE), hysteresis)
    level = float(sum(i.volts for i in items if i.name != NOISE))
    start = rest + sign * (level + room) if known else float("nan")
    release = start - sign * hysteresis
    lost = 100.0 * abs(start - rest) / track.span.value if track.span.value > 0 else float("nan")
    weak = why_weak(track, lost, seen, parameters)
    false = (bounds.expected_crossings(room, noise.sigma, noise.slope, 1000.0)
             if known else float("nan"))
    band = DeadBand(
        column=track.column,
        rest_volts=rest,
        items=items,
        total_volts=total,
        release_volts=release,
        start_of_travel_volts=start,
        lost_travel_percent=lost,
        confidence=parameters.confidence,
        risk=1.0 - parameters.confidence,
        key_ons=parameters.key_ons,
        key_on_hours=parameters.key_on_hours,
        false_per_1000_h=false,
        weak=None if weak is None else weak[1],
        weak_code=WITHDRAWN if weak is None else weak[0],
        law=parameters.returns,
        cases=() if seen is None or not known else _cases(seen, parameters, track, start),
        not_covered=()
        if seen is None or not known
        else not_covered(
            seen.count, parameters.key_ons, 1.0 - parameters.confidence, parameters.returns
        ),
    )
    return _with_offer(band, seen, parameters, track, car)


def _with_offer(band: DeadBand, seen: Returns | None, parameters: Parameters,
                track: TrackFindings, car: CarAddition | None) -> DeadBand:
    """Return the dead band with the offer of more lift-offs where they would pay."""
    if (seen is None or band.weak is not None or not np.isfinite(band.lost_travel_percent)
            or installed(track, None if car is None else car.returns) is not None):
        return band
    # The looks at one pedal share the risk: the next one has one part in so many.
    shared = _returns_risk(parameters, car) / (track.looks + 1)
    offer = offer_more(seen, parameters.returns, parameters.key_ons, shared)
    if offer is None:
        return band
    saved = 100.0 * (seen.scatter[parameters.returns].volts - offer.scatter_volts) / (
        track.span.value)
    if saved < WORTH_PERCENT:
        return band
    return replace(band, more_lift_offs=offer.more, more_seconds=offer.seconds,
                   more_lost_travel_percent=band.lost_travel_percent - saved)


def _cases(seen: Returns, parameters: Parameters, track: TrackFindings,
           start: float) -> tuple[ScatterCase, ...]:
    """Return the dead band under every law that later returns may follow."""
    sign, chosen = sign_of(track), seen.scatter[parameters.returns].volts
    result = []
    for name in LAWS:
        at = start + sign * (seen.scatter[name].volts - chosen)
        result.append(ScatterCase(name, seen.scatter[name].volts, at,
                                  100.0 * abs(at - track.rest.value) / track.span.value
                                  if track.span.value > 0 else float("nan")))
    return tuple(result)


def returns_of(track: TrackFindings, parameters: Parameters,
               car: CarAddition | None = None) -> Returns | None:
    """Return what the returns of a track say of later ones; None with too few of them."""
    if track.rest_levels.size < LEAST_RETURNS:
        return None
    rest = track.rest.value if np.isfinite(track.rest.value) else np.median(track.rest_levels)
    risk, sign = _returns_risk(parameters, car), sign_of(track)
    if (here := installed(track, None if car is None else car.returns)) is not None:
        # Two converters read the two rests.
        between = parameters.converter_error_steps * here.step_volts
        return judge_returns(sign * (np.array(here.levels) - rest) + between, 0.0,
                             np.array(here.times_s),
                             max(track.step_volts, here.step_volts), track.span.value,
                             parameters.key_ons, risk, in_car=True)
    # Who looked before and then asked for more had a chance to be wrong each time.
    return judge_returns(sign * (track.rest_levels - rest), drift_seen(track, sign),
                         track.rest_times_s, track.step_volts, track.span.value,
                         parameters.key_ons, risk / _looks(track))


def _looks(track: TrackFindings) -> int:
    """Return how many looks share the risk: with few returns one more is sure to be wanted."""
    few = track.rest_levels.size < LAST_LOOK_RETURNS
    return max(track.looks, 2) if few else track.looks


def _returns_risk(parameters: Parameters, car: CarAddition | None) -> float:
    """Return the share of the allowed risk that the returns have."""
    risk = 1.0 - parameters.confidence
    if _car(parameters, car).basis == "measured":
        # What the car adds is then a bound with a risk of its own: the promise is shared.
        risk *= 1.0 - CAR_SHARE
    return (1.0 - NOISE_SHARE) * risk


def _returns(track: TrackFindings, parameters: Parameters,
             seen: Returns | None) -> tuple[BudgetItem, BudgetItem, BudgetItem]:
    """Return the items that the returns decide: their scatter, the rest itself, the drift."""
    names = (SCATTER, "rest itself", "drift")
    if seen is None:
        why = Reason("few returns", {"returns": int(track.rest_levels.size),
                                     "advised": ADVISED_RETURNS})
        infinite = float("inf")
        return (BudgetItem(names[0], infinite, "measured", why),
                BudgetItem(names[1], 0.0, "measured", why),
                BudgetItem(names[2], 0.0, "measured", why))
    scatter = seen.scatter[parameters.returns]
    return (BudgetItem(names[0], scatter.volts, "measured", scatter.why),
            BudgetItem(names[1], seen.middle_volts, "measured", seen.middle_why),
            BudgetItem(names[2], seen.drift_volts, "measured", seen.drift_why))


def _car(parameters: Parameters, car: CarAddition | None) -> BudgetItem:
    if car is not None and np.isfinite(car.volts):
        return BudgetItem(CAR, max(car.volts, 0.0), car.basis, Reason("as told", {
            "words": car.why}), car.key_ons)
    return BudgetItem(CAR, parameters.car_allowance_volts,
                      ground_of(parameters, "car_allowance_volts"), Reason("allowance for the car"))


def _input(track: TrackFindings, parameters: Parameters, car: CarAddition | None,
           reach: InputReach | None, lift_volts: float) -> tuple[BudgetItem, ...]:
    """Return what the controller's input adds to a rest lifted by so much, where it was asked.

    Returns that were logged in the car were read with that input at the lead: it is in them.
    """
    if reach is None:
        return ()
    if installed(track, None if car is None else car.returns) is not None:
        return (BudgetItem(INPUT, 0.0, "measured", Reason("input in the log")),)
    basis = ground_of(parameters, "controller_input_ohms", "controller_pull")
    return (BudgetItem(INPUT, reach.adds(lift_volts / track.span.value), basis, reach.why),)
