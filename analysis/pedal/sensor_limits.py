"""Where a track reads what its sensor cannot give: outside its feed, or at its output's limits.

A reading outside 0 V to the supply is of no sensor fed by it, so it comes before whatever the
levels would say. The output stage of a Hall sensor ends short of both rails; beyond there it stands
still while the pedal moves.
"""

from collections.abc import Iterator, Mapping

from analysis.model.finding import Finding, Value
from analysis.parameters import Parameters
from analysis.pedal.tracks import TrackFindings
from analysis.pedal.verdict import found

# Levels further outside than this share of the supply are told (common practice, no source): more
# than a converter's offset, and above the supply more than one that was not recorded may be off.
BELOW, ABOVE = 0.01, 0.03


def outside_findings(tracks: Mapping[str, TrackFindings],
                     parameters: Parameters) -> Iterator[Finding]:
    """Yield the tracks whose rest or full travel lies below 0 V or above their supply."""
    if parameters.pedal_kind == "rheostat":
        return
    for name, track in tracks.items():
        levels = (track.rest.value, track.full.value)
        below = min(levels) < -BELOW * track.nominal_volts
        # A sensor that keeps its volts may be fed by more than what is called its supply.
        above = (max(levels) > (1.0 + ABOVE) * track.nominal_volts
                 and parameters.pedal_kind != "hall-fixed")
        if below or above:
            yield found("outside its supply", 3, name, {
                "rest_volts": levels[0], "full_volts": levels[1], "below": below,
                "supply_volts": track.nominal_volts})


def hall_findings(tracks: Mapping[str, TrackFindings],
                  parameters: Parameters) -> Iterator[Finding]:
    """Yield the ends of travel that lie where a Hall sensor's output stage ends."""
    if not parameters.pedal_kind.startswith("hall"):
        return
    limits = {"lowest": parameters.sensor_lowest_percent,
              "highest": parameters.sensor_highest_percent}
    for name, track in tracks.items():
        for where, level in (("rest", track.rest.value), ("full", track.full.value)):
            percent = 100.0 * level / track.nominal_volts
            end = ("lowest" if percent <= limits["lowest"] else
                   "highest" if percent >= limits["highest"] else None)
            if end is None:
                continue
            stated = f"sensor_{end}_percent" in parameters.changed
            told: dict[str, Value] = {
                "volts": level, "percent": percent, "limit_percent": limits[end], "end": end,
                "stated": stated}
            if where == "rest":
                yield found("rests at its output limit", 2 if stated else 1, name, told)
            else:
                yield found("full at its output limit", 1, name, told)
