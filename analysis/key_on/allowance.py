"""What the car may add at a later key-on: the measured allowance, and how many key-ons it needs."""

from dataclasses import replace

import numpy as np

from analysis.key_on.results import MoreCycles
from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.parameters import Parameters
from analysis.pedal.at_controller import InputReach
from analysis.pedal.dead_band import CAR_SHARE, SCATTER, budget, sign_of
from analysis.pedal.tracks import TrackFindings
from analysis.statistics import bounds

# Fewer key-ons than this say too little of how one differs from the next; the dead band asks
# for as many returns (common practice, no source).
LEAST_CYCLES = 3
# From so many on, more key-ons like them lower the bound by little.
ENOUGH_CYCLES = 10
_COVERAGES = (0.90, 0.95, 0.99)
# The items of the budget that hold how far one return of the pedal may lie from the next.
_OF_RETURNS = (SCATTER, "rest itself", "drift")


def lift_bound(furthest: Array, settled: Array, reach_volts: float, step_volts: float,
               parameters: Parameters) -> tuple[float, Reason]:
    """Return the bound on what the car may add at the parameters' later key-ons, and its ground.

    furthest, settled: shape (cycles,), volts towards pressed above the rest before key-on: the
    furthest single reading, and the settled level. reach_volts: of the noise over the parameters'
    key-on hours, NaN unknown. The larger of two prediction bounds (bounds.prediction_factor):
    on the furthest readings, and on the settled levels with the reach of the noise on top; where
    that reach is unknown the furthest readings are taken for the extremes they are. Each at the
    car's share of the allowed risk. Never below what was seen; NaN below three key-ons.
    """
    furthest = furthest[np.isfinite(furthest)]
    settled = settled[np.isfinite(settled)]
    largest = float(furthest.max()) if furthest.size else float("nan")
    if furthest.size < LEAST_CYCLES:
        return float("nan"), Reason("few key-ons", {
            "logged": int(furthest.size), "least": LEAST_CYCLES, "largest_volts": largest})
    noise_known = settled.size >= LEAST_CYCLES and bool(np.isfinite(reach_volts))
    swing = _bound(furthest, step_volts, parameters, extremes=not noise_known)
    why = Reason("bound of key-ons", {
        "logged": int(furthest.size), "largest_volts": largest, "key_ons": parameters.key_ons,
        "confidence": _confidence(parameters), "hours": parameters.key_on_hours,
        "noise_known": noise_known})
    if not noise_known:
        return max(swing, 0.0), why
    steady = _bound(settled, step_volts, parameters) + reach_volts
    return max(swing, steady, 0.0), why


def bound_of_more(furthest: Array, settled: Array, reach_volts: float, step_volts: float,
                  parameters: Parameters) -> float:
    """Return what `lift_bound` would come to with ENOUGH_CYCLES key-ons that scatter as these do.

    NaN where there are as many already, or no bound of these. An expectation and no bound: the
    next key-ons may scatter more.
    """
    furthest = furthest[np.isfinite(furthest)]
    settled = settled[np.isfinite(settled)]
    if not LEAST_CYCLES <= furthest.size < ENOUGH_CYCLES:
        return float("nan")
    noise_known = settled.size >= LEAST_CYCLES and np.isfinite(reach_volts)
    swing = _bound(furthest, step_volts, parameters, not noise_known, ENOUGH_CYCLES)
    if not noise_known:
        return max(swing, 0.0)
    steady = _bound(settled, step_volts, parameters, count=ENOUGH_CYCLES) + reach_volts
    return max(swing, steady, 0.0)


def within_supply(bound: float, basis: Reason, sign: float, rest_volts: float,
                  nominal_volts: float) -> tuple[float, Reason]:
    """Return a bound no larger than the way from rest to the end of the supply, and its ground.

    sign: +1 rising, -1 falling. rest_volts: the rest furthest from that end, NaN unknown.
    """
    room = nominal_volts - rest_volts if sign > 0 else rest_volts
    if not bound > room:
        return bound, basis
    return room, replace(basis, values={**basis.values, "room_volts": room})


def returns_reach(swept: TrackFindings, parameters: Parameters) -> float:
    """Return how far one return of the pedal may lie from the next, in volts, by its sweep."""
    return sum(i.volts for i in budget(swept, parameters) if i.name in _OF_RETURNS)


def rest_moved(before: Array, swept: TrackFindings, parameters: Parameters,
               step_volts: float = 0.0, reach: InputReach | None = None) -> float:
    """Return how far the pedal rests from its rest on the bench, volts towards pressed.

    before: shape (cycles,), rest before each key-on, volts at nominal supply; NaN left out.
    step_volts: of the log's converter, which may be another one than the sweep's. reach: what the
    controller's input may do to the rest; a log in the car is read with it on the lead.
    0 while the furthest lies within what the sweep's own returns may differ by, else the
    difference of the furthest, negative away from pressed; NaN when nothing was at rest.
    """
    moved = sign_of(swept) * (before[np.isfinite(before)] - swept.rest.value)
    if not moved.size or not np.isfinite(swept.rest.value):
        return float("nan")
    usual = returns_reach(swept, parameters)
    usual += parameters.converter_error_steps * (swept.step_volts + step_volts)
    furthest = float(moved.max())
    towards, away = (0.0, 0.0) if reach is None else (reach.adds(0.0), float(reach.away[0]))
    return furthest if not -usual - away <= furthest <= usual + towards else 0.0


def more_cycles(logged: int, parameters: Parameters) -> tuple[MoreCycles, ...]:
    """Return how many key-ons a promise without any distribution needs (Wilks 1941).

    The largest of n lifts is an upper bound for a share p of all later ones with confidence
    1 - p^n. The shares are 90, 95 and 99 %, and the one that the parameters' key_ons ask for.
    """
    shares = [*_COVERAGES]
    asked = 1.0 - 1.0 / parameters.key_ons
    if asked > _COVERAGES[-1] + 1e-9:
        shares.append(asked)
    return tuple(
        MoreCycles(
            p, parameters.confidence, bounds.readings_needed(p, parameters.confidence), logged
        )
        for p in shares
    )


def _bound(
    values: Array, step_volts: float, parameters: Parameters, extremes: bool = False,
    count: int | None = None,
) -> float:
    """Return the prediction bound on such values; extremes: they are the largest of many readings.

    count: as if so many values had the mean and the scatter of these; None: as many as there are.

    Largest readings have a longer tail than normal ones (Gumbel), so for them the limit of an
    exponential population counts too. Confidence: the car's share of the allowed risk.
    """
    # Levels that rounding to steps left alike may still differ by what rounding hides.
    hidden = bounds.quantisation_noise(step_volts)
    seen, confidence = int(values.size), _confidence(parameters)
    count = seen if count is None else count
    factor = bounds.prediction_factor(count, parameters.key_ons, confidence)
    bound = float(values.mean()) + factor * max(float(values.std(ddof=1)), hidden)
    if extremes:
        least = float(values.min())
        theta = max(seen * (float(values.mean()) - least) / (seen - 1), hidden)
        factor = bounds.one_sided_prediction_factor(count, parameters.key_ons, confidence)
        bound = max(bound, least + factor * theta)
    return max(bound, float(values.max()))


def _confidence(parameters: Parameters) -> float:
    return 1.0 - CAR_SHARE * (1.0 - parameters.confidence)
