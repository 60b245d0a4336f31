"""Why a sweep does not carry the promise of a dead band: returns, noise, the end of the range."""

import numpy as np

from analysis.model.finding import Reason, SweepCode
from analysis.parameters import Parameters
from analysis.pedal.returns import WITHDRAWN, Returns
from analysis.pedal.tracks import TrackFindings

# With fewer returns no scatter can be stated; with less rest no noise.
LEAST_RETURNS = 3
ADVISED_RETURNS = 5
LEAST_REST_SECONDS = 2.0


def why_weak(track: TrackFindings, lost_percent: float, seen: Returns | None,
             parameters: Parameters) -> tuple[SweepCode, Reason] | None:
    """Return why the data do not carry the promise, as code and reason, or None."""
    count = int(track.rest_levels.size)
    if count < LEAST_RETURNS:
        return WITHDRAWN, Reason("too few returns", {"returns": count, "advised": ADVISED_RETURNS})
    noise = noise_unknown(track)
    if noise is not None:
        return WITHDRAWN, Reason("no dead band", {"why": noise})
    if not np.isfinite(lost_percent) or lost_percent >= 100.0:
        if seen is not None and (why := seen.withdrawn_because(parameters.returns)) is not None:
            return why
        return WITHDRAWN, Reason("reaches full travel")
    if _rest_is_clipped(track):
        return WITHDRAWN, Reason("clipped at rest")
    return None if seen is None else seen.withdrawn_because(parameters.returns)


def noise_unknown(track: TrackFindings) -> Reason | None:
    """Return why nothing is known of the noise, or None."""
    if not np.isfinite(track.noise_volts) or track.rest_seconds < LEAST_REST_SECONDS:
        return too_slow(track) or Reason("rest too short", {
            "seconds": track.rest_seconds, "least_s": LEAST_REST_SECONDS})
    if not (track.noise_volts > 0 or track.step_volts > 0):
        return Reason("noise unseen")
    return None


def too_slow(track: TrackFindings) -> Reason | None:
    """Return how a rate is too low for the noise in rests as long as asked for, or None."""
    least = track.least_rest_s
    if not least > 1.05 * LEAST_REST_SECONDS:  # Times may be rounded.
        return None
    return Reason("rate too low for noise", {
        "hertz": 1 / track.step_s, "least_rest_s": least, "seconds": track.rest_seconds,
        "enough_hertz": least / track.step_s / LEAST_REST_SECONDS})


def _rest_is_clipped(track: TrackFindings) -> bool:
    """Return whether a clipped track touches the end of the range on its rest side."""
    if not track.clipped:
        return False
    end = track.lowest_volts if track.direction == "rising" else track.highest_volts
    return bool(abs(track.rest.value - end) <= 2.0 * track.step_volts)
