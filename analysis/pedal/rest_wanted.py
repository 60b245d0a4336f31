"""What the rest that the user wants says of which end of travel is rest."""

from collections.abc import Mapping

from analysis.model.finding import Reason
from analysis.pedal.tracks import TrackFindings

# A wanted rest within this share of the span from one end says which of them is meant.
NEAR_AN_END = 0.25


def wanted_at_the_other_end(tracks: Mapping[str, TrackFindings],
                            wanted: Mapping[str, float]) -> Reason | None:
    """Return that the user wants a track to rest where full travel was taken to be, else None.

    wanted: volts by track.
    """
    for name, volts in wanted.items():
        track = tracks[name]
        if _share(track, volts) > 1.0 - NEAR_AN_END:
            return Reason("rest end contradicted", {
                "track": name, "wanted_volts": volts, "rest_volts": track.rest.value,
                "full_volts": track.full.value})
    return None


def wanted_at_rest(tracks: Mapping[str, TrackFindings], wanted: Mapping[str, float]) -> bool:
    """Return whether the user's own wanted rest says that this end is rest; volts by track."""
    return any(abs(_share(tracks[name], volts)) < NEAR_AN_END for name, volts in wanted.items())


def _share(track: TrackFindings, volts: float) -> float:
    span = track.full.value - track.rest.value
    return (volts - track.rest.value) / span if span else float("nan")
