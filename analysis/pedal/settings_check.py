"""Whether the values of an earlier recording still keep the pedal still.

Method: docs/method_compare.md.
"""

import math
from collections.abc import Mapping

from analysis.model.finding import Reason
from analysis.pedal.dead_band import SCATTER, DeadBand
from analysis.pedal.findings import Findings
from analysis.pedal.tracks import TrackFindings
from analysis.statistics.returns_bound import scale_doubt


def stale_settings(before: Findings, after: Findings, rests: Mapping[str, float],
                   factor: float) -> tuple[Reason, ...]:
    """Return where the values of the first recording would no longer keep the pedal still.

    rests: by track, how far its rest moved for certain, in volts, after minus before. factor:
    standard uncertainties beyond which a difference is not chance. One reason a track.
    A dead band found anew differs by chance too: it counts where rest moved towards pressed, or
    where the difference exceeds what the scatter of the returns lets both be known to.
    """
    result = []
    for name, old in before.dead_bands.items():
        new = after.dead_bands.get(name)
        track = after.tracks.get(name)
        if new is None or track is None:
            continue
        if track.direction != before.tracks[name].direction:
            # The first recording's levels then lie on the pressed side of this track's rest.
            result.append(Reason("direction turned", {
                "track": name, "before": before.tracks[name].direction, "after": track.direction}))
            continue
        sign = 1.0 if track.direction == "rising" else -1.0
        set_before, needed = old.start_of_travel_volts, new.start_of_travel_volts
        if not math.isfinite(set_before):
            continue
        short = sign * (needed - set_before)
        if sign * (track.rest.value - set_before) >= 0:
            result.append(Reason("rests beyond start of travel", {
                "track": name, "start_of_travel_volts": set_before,
                "rest_volts": track.rest.value, "known": math.isfinite(needed),
                "moved_volts": abs(track.rest.value - before.tracks[name].rest.value)}))
            continue
        moved = sign * rests.get(name, 0.0) > 0
        chance = math.hypot(_bound_doubt(before.tracks[name], old), _bound_doubt(track, new))
        if short > (0.001 if moved else factor * chance):
            result.append(Reason("start no longer covers", {
                "track": name, "start_of_travel_volts": set_before, "needed_volts": needed,
                "rises": sign > 0}))
    return tuple(result)


def _bound_doubt(track: TrackFindings, band: DeadBand) -> float:
    """Return the standard uncertainty of a start of travel, from the returns it rests on.

    Under the law that it takes returns to follow.
    """
    share = scale_doubt(int(track.rest_levels.size), band.law)
    bound = next((i.volts for i in band.items if i.name == SCATTER), 0.0)
    own = track.rest_repeats if math.isfinite(track.rest_repeats) else track.rest.uncertainty
    return math.hypot(own, share * bound) if math.isfinite(share) else math.inf
