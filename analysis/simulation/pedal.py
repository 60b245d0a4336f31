"""What a simulated pedal is: two tracks (or one), how they move, and what is wrong with them.

Travel is in percent: 0 at the rest stop, 100 at the full stop. Track levels are ratios to the
supply. Times are in seconds.
"""

from dataclasses import dataclass, field

from analysis.model.errors import BadParameter


@dataclass(frozen=True)
class Track:
    """Hold one potentiometer track.

    rest_ratio, full_ratio: wiper over supply at the two stops.
    bend_percent: known nonlinearity, sum over k of bend_percent[k-1] * sin(k pi travel), % of
        its own travel, so that both ends stay where they are.
    lag_percent: hysteresis of its wiper, full width between pressing and releasing.
    return_scatter_volts: spread of its own rest level between returns, at 5 V.
    noise_volts, noise_colour: electrical noise at its wiper: "white", "smoothed" (lag-one
        correlation over a few ms) or "1/f".
    """

    rest_ratio: float
    full_ratio: float
    bend_percent: tuple[float, ...] = ()
    lag_percent: float = 0.0
    return_scatter_volts: float = 0.0008
    noise_volts: float = 0.0010
    noise_colour: str = "white"


@dataclass(frozen=True)
class WornSpot:
    """Hold a worn place: added noise of the wiper, bell-shaped about a travel."""

    track: int
    travel_percent: float
    width_percent: float = 4.0
    noise_volts: float = 0.020


@dataclass(frozen=True)
class FlatSpot:
    """Hold a stretch of travel over which a track does not change."""

    track: int
    travel_percent: float
    width_percent: float = 4.0


@dataclass(frozen=True)
class Dropout:
    """Hold lost contact, either each time a press passes a travel, or once at a time.

    level: "low" (to ground), "high" (to supply) or "floating" (hum about mid supply).
    share: of the passes at which contact is really lost.
    """

    track: int
    seconds: float
    travel_percent: float | None = None
    at_s: float | None = None
    level: str = "low"
    share: float = 1.0


@dataclass(frozen=True)
class Slip:
    """Hold a track that shifts for good at a time, by a share of its travel in %."""

    track: int
    at_s: float
    percent: float


@dataclass(frozen=True)
class StuckReturn:
    """Hold a return of one cycle (0 is the first) that stays at a travel until the next press."""

    cycle: int
    travel_percent: float = 15.0


@dataclass(frozen=True)
class Supply:
    """Hold the sensor supply: its volts, noise, ripple, and a sag that comes and goes.

    recorded: whether a supply channel is in the recording.
    drift_volts: change from the first to the last sample.
    """

    volts: float = 5.0
    nominal_volts: float = 5.0
    noise_volts: float = 0.0005
    ripple_volts: float = 0.0
    ripple_hz: float = 100.0
    drift_volts: float = 0.0
    sag_volts: float = 0.0
    sag_at_s: float = 0.0
    sag_seconds: float = 0.0
    recorded: bool = True


@dataclass(frozen=True)
class Pedal:
    """Hold a pedal with known truth.

    return_scatter_percent: spread of where the whole pedal comes to rest (both tracks alike).
    play_percent: play between the shafts of the two tracks; the second lags by this much.
    slow_return_s: how long a quick lift-off takes; None for a healthy spring.
    drift_volts_per_minute: of every track's rest, at 5 V.
    """

    tracks: tuple[Track, ...]
    name: str = ""
    return_scatter_percent: float = 0.05
    play_percent: float = 0.0
    slow_return_s: float | None = None
    drift_volts_per_minute: float = 0.0
    supply: Supply = field(default_factory=Supply)
    worn_spots: tuple[WornSpot, ...] = ()
    flat_spots: tuple[FlatSpot, ...] = ()
    dropouts: tuple[Dropout, ...] = ()
    slips: tuple[Slip, ...] = ()
    stuck_returns: tuple[StuckReturn, ...] = ()
    gaps: tuple[tuple[float, int], ...] = ()

    @property
    def gain(self) -> float:
        """Return the slope of the second track over the first."""
        a, b = self.tracks[0], self.tracks[1]
        return (b.full_ratio - b.rest_ratio) / (a.full_ratio - a.rest_ratio)

    @property
    def offset_ratio(self) -> float:
        """Return the second track minus gain times the first, as a ratio to supply."""
        return self.tracks[1].rest_ratio - self.gain * self.tracks[0].rest_ratio

    @property
    def relation(self) -> str | None:
        """Return the relation by the rules of the recording's findings; None for one track."""
        if len(self.tracks) < 2:
            return None
        gain, offset = self.gain, self.offset_ratio
        if 0.9 <= gain <= 1.1:
            return "same slope" if abs(offset) < 0.05 else "same slope with offset"
        if 0.45 <= gain <= 0.55 or 1.8 <= gain <= 2.2:
            return "half slope"
        if -1.1 <= gain <= -0.9:
            return "opposed slopes"
        return "other"


_A = Track(0.150, 0.850, (0.15, -0.1))
_B = Track(0.152, 0.848, (-0.1, 0.1))
_HALF = Track(0.075, 0.425, (-0.1, 0.1))
_OPPOSED = Track(0.850, 0.150, (0.1, 0.1))

PEDALS: tuple[Pedal, ...] = (
    Pedal((_A, _B), "healthy"),
    Pedal((_A, Track(0.182, 0.848, (-0.1, 0.1))), "off-at-rest"),
    Pedal((_A, _OPPOSED), "opposed"),
    Pedal((_A, _HALF), "half-slope"),
    Pedal((_A, Track(0.262, 0.955, (0.1, 0.1))), "offset"),
    Pedal((_A, _B), "worn-spot", worn_spots=(WornSpot(0, 8.0, 4.0, 0.020),)),
    Pedal((_A, _B), "dropouts", dropouts=(Dropout(1, 0.030, 40.0),)),
    Pedal((_A, _B), "play", play_percent=3.0),
    Pedal((_A, _B), "stuck-return", stuck_returns=(StuckReturn(3, 15.0),)),
    Pedal((_A, _B), "slow-return", slow_return_s=1.6),
    Pedal((_A, _B), "sagging-supply",
          supply=Supply(sag_volts=0.6, sag_at_s=20.0, sag_seconds=12.0)),
    Pedal((_A, Track(0.30, 0.99, (-0.1, 0.1))), "clipped", supply=Supply(volts=5.3)),
    Pedal((_A, _B), "flat-spot", flat_spots=(FlatSpot(1, 60.0, 4.0),)),
    Pedal((_A, _B), "slip", slips=(Slip(1, 30.0, 4.0),)),
    Pedal((_A, _B), "lost-samples", gaps=((9.0, 20), (21.5, 100), (40.0, 20))),
    Pedal((_A,), "one-track"),
)


def pedal_named(name: str) -> Pedal:
    """Return the pedal of that name; raise BadParameter with the known names."""
    for pedal in PEDALS:
        if pedal.name == name:
            return pedal
    raise BadParameter("no such pedal", pedal=name, pedals=tuple(p.name for p in PEDALS))
