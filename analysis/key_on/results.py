"""What a key-on log shows, as frozen results for faces and reports to read.

All track volts are at the sensor, stated at nominal supply, unless a name says `measured`.
"Towards pressed" is positive for a rising and negative for a falling track; where a value is
called an excursion or a lift it is already turned so that positive means towards pressed.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from analysis.model.finding import Finding, Reason
from analysis.model.recording import Recording
from analysis.parameters import Parameters
from analysis.pedal.car_returns import CarReturns
from analysis.pedal.dead_band import CarAddition, DeadBand
from analysis.pedal.settings import Setting
from analysis.signal.spectrum import Spectrum, Tone


@dataclass(frozen=True)
class Interval:
    """Hold a value and the limits that hold it at the stated confidence; NaN when unknown."""

    value: float
    low: float
    high: float
    confidence: float = 0.95

    @property
    def excludes_zero(self) -> bool:
        """Return True when zero lies outside the limits."""
        return self.low > 0.0 or self.high < 0.0


UNKNOWN = Interval(float("nan"), float("nan"), float("nan"))


@dataclass(frozen=True)
class TrackCycle:
    """Hold what one key-on did to one track.

    before_volts, after_volts: rest before key-on, and the settled rest extended back to it.
    shift: after minus before (signed volts, not turned towards pressed).
    settling_s: seconds until the reading stays near its settled level; NaN: it did not settle.
    excursion_volts: furthest single reading towards pressed, above the rest before key-on;
        excursion_at_s: when (recording time); excursion_for_s: how long it stayed beyond half.
    noise_before_volts, noise_after_volts: rms about the level of each second.
    drift_volts_per_minute: after settling, while the key stayed on.
    """

    column: str
    before_volts: float
    after_volts: float
    shift: Interval
    settling_s: float
    excursion_volts: float
    excursion_at_s: float
    excursion_for_s: float
    noise_before_volts: float
    noise_after_volts: float
    drift_volts_per_minute: Interval


@dataclass(frozen=True)
class KeyCycle:
    """Hold one key-on: rows and times of its rest before, its switching, and its end.

    found_by: "key channel", "mark", "supply" or "signal".
    supply_before_volts, supply_after_volts, supply_lowest_volts: NaN without a supply channel.
    """

    number: int
    found_by: str
    before_row: int
    on_row: int
    off_row: int
    before_s: float
    on_s: float
    off_s: float
    tracks: Mapping[str, TrackCycle]
    supply_before_volts: float
    supply_after_volts: float
    supply_lowest_volts: float


@dataclass(frozen=True)
class Press:
    """Hold one movement of both tracks that looks like a foot; it is left out of everything.

    peak_volts: largest movement of the first track, signed. stated: a mark or a switch says that
    a foot was there; without that nobody knows, and the verdict stays open.
    """

    start_s: float
    end_s: float
    peak_volts: float
    stated: bool = False


@dataclass(frozen=True)
class TrackKeyOn:
    """Hold one track over all cycles.

    direction: "rising" or "falling"; direction_why: the code of how it is known.
    span_volts: NaN when nothing told it.
    shift: pooled over cycles (Student t on the cycles' shifts; one cycle: its own interval).
    between_cycles_volts: standard deviation of the shift between cycles, NaN with one.
    lift_bound_volts: what one of the next key-ons may lift the reading, towards pressed, above
        the rest with the key off (above the rest of the sweep when one is given and the pedal
        now rests further towards pressed), at the parameters' confidence; lift_basis: the ground.
    lift_bound_of_more_volts: what that bound would come to with ten key-ons that scatter as
        these do; NaN with as many, or without a bound.
    rest_moved_volts: how far the pedal rests from its rest in the sweep with the key off,
        towards pressed; 0 within what its returns there differ by, NaN when it cannot be told.
    follow: relative change of the measured volts per relative change of the supply, 1 for a
        ratiometric track; follows: "ratiometric", "does not follow", "partly", "cannot say".
    per_degree: volts per unit of the temperature channel, None when it is missing or still.
    """

    column: str
    direction: str
    direction_why: str
    span_volts: float
    shift: Interval
    between_cycles_volts: float
    settling_s: float
    excursion_volts: float
    noise_before_volts: float
    noise_after_volts: float
    spectrum: Spectrum
    tones: tuple[Tone, ...]
    drift_volts_per_minute: Interval
    per_degree: Interval | None
    follow: Interval
    follows: str
    lift_bound_volts: float
    lift_basis: Reason
    rest_moved_volts: float
    step_volts: float
    lift_bound_of_more_volts: float = float("nan")


@dataclass(frozen=True)
class CommonMode:
    """Hold where the shift comes from.

    kind: "none", "ground offset", "pedal moved", "one track", "mixed", "cannot tell",
        "one track only" (the log has no second track).
    common_volts: what both tracks share; own_volts: what is left, by track (measured volts).
    as_measured: the sensor's volts do not follow the supply, so they are not stated at nominal
    supply. supply_unseen: the supply was not logged, and may have sagged instead.
    """

    kind: str
    column: str | None
    common_volts: Interval
    own_volts: Mapping[str, float]
    why: Reason
    as_measured: bool = False
    supply_unseen: bool = False


@dataclass(frozen=True)
class Unread:
    """Hold for how long no level of a track was known, key on and foot off, and since when.

    by_supply: the track was read, but not the supply that it is stated by. brief: too short and
    too seldom to leave the verdict open. places, longest_s: how often, and for how long at most.
    """

    seconds: float
    first_s: float
    by_supply: bool
    brief: bool = False
    places: int = 1
    longest_s: float = 0.0


@dataclass(frozen=True)
class Application:
    """Hold one time at which a track would have asked for power with the foot off the pedal.

    both: the other track was past its own start of travel within the same time.
    """

    column: str
    cycle: int
    start_s: float
    end_s: float
    peak_volts: float
    both: bool

    @property
    def seconds(self) -> float:
        """Return how long power would have been asked for."""
        return self.end_s - self.start_s


@dataclass(frozen=True)
class TrackVerdict:
    """Hold how close one track came to its start of travel while the key was on.

    margin_volts: start of travel minus the furthest reading, towards pressed; negative: passed.
    margin_percent: the same in % of travel, NaN when the span is unknown.
    applications counts all of them; the list in the verdict may be shorter.
    """

    column: str
    start_of_travel_volts: float
    release_volts: float
    closest_volts: float
    closest_at_s: float
    margin_volts: float
    margin_percent: float
    applications: int
    applied_s: float


@dataclass(frozen=True)
class Verdict:
    """Hold whether power would have been applied.

    applied: None when no track asked for it, but one of the log's tracks was not judged: no start
        of travel was given for it, it gave no reading for some of the time, or something was
        found that hides what came (analysis.key_on.opening).
    unchecked: key-on time left out because a foot seemed to be on the pedal, seconds.
    """

    applied: bool | None
    tracks: Mapping[str, TrackVerdict]
    applications: tuple[Application, ...]
    watched_s: float
    unchecked_s: float


@dataclass(frozen=True)
class Proof:
    """Hold the predicted rate of noise crossings of start of travel, per 1000 key-on hours.

    rate: predicted from the measured noise (NaN when `enough` is False).
    free_bound_per_1000_h: upper bound from the count of crossings alone, whatever the noise's
        distribution, for events further than a second apart.
    level_sigmas: distance of start of travel from the mean rest, in rms of the noise.
    reach_volts: above the settled rest, what the noise passes too rarely to matter in the
        parameters' key-on hours; NaN when the noise could not be fitted.
    fit_parts: (sigma, share) of each Gaussian part of the fitted noise.
    why: on what ground, or what is missing.
    """

    column: str
    level_volts: float
    rate: Interval
    free_bound_per_1000_h: float
    crossings: int
    events: int
    hours: float
    noise_volts: float
    level_sigmas: float
    fit_parts: tuple[tuple[float, float], ...]
    reach_volts: float
    enough: bool
    why: Reason


@dataclass(frozen=True)
class BrakeEvent:
    """Hold one time with the brake on and the pedal pressed beyond 25 %, until it fell below 5 %.

    Formula SAE rules, EV.4.7: motor power is to stay off from start to end.
    """

    start_s: float
    end_s: float
    peak_percent: float


@dataclass(frozen=True)
class MoreCycles:
    """Hold how many key-ons a distribution-free promise needs (Wilks).

    coverage: share of later key-ons that stay below the largest lift seen so far.
    """

    coverage: float
    confidence: float
    needed: int
    logged: int

    @property
    def missing(self) -> int:
        """Return how many key-ons are still to be logged."""
        return max(0, self.needed - self.logged)


@dataclass(frozen=True)
class KeyOnFindings:
    """Hold what one key-on log shows, for faces, reports and exports to read.

    contactor: whether it "closed" at these key-ons or stayed "open"; None: not stated.
    car: what counts for what the car adds, by track; empty when the log cannot carry it.
    settings: issued anew when a sweep was given, else as entered.
    issued: True when `settings` were issued anew; dead_bands: what they rest on, else empty.
    swept: the sweep it was judged and issued with, None without one. forbidding: why that pedal
        must be mended before it is driven, gravest first.
    passed: tracks whose start of travel, as in `settings`, a reading of this very log passed.
    unread: the tracks that were not read all the time, judged or not.
    found: what was found that opens the verdict or takes an allowance back, gravest first.
    returns: of the pedal as installed, by track, that count toward the promise; empty where
        something may hide a rest before key-on: hidden_by, its codes.
    """

    recording: Recording
    parameters: Parameters
    contactor: str | None
    car: Mapping[str, CarAddition]
    cycles: tuple[KeyCycle, ...]
    presses: tuple[Press, ...]
    tracks: Mapping[str, TrackKeyOn]
    common: CommonMode
    verdict: Verdict
    proofs: Mapping[str, Proof]
    brake_events: tuple[BrakeEvent, ...]
    more_cycles: tuple[MoreCycles, ...]
    dead_bands: Mapping[str, DeadBand]
    settings: tuple[Setting, ...]
    issued: bool
    swept: Recording | None
    forbidding: tuple[Finding, ...]
    passed: tuple[str, ...]
    unread: Mapping[str, Unread]
    key_on_hours: float
    notes: tuple[Reason, ...]
    found: tuple[Finding, ...] = ()
    returns: Mapping[str, CarReturns] = field(default_factory=dict)
    hidden_by: tuple[str, ...] = ()

    @property
    def noisy(self) -> tuple[str, ...]:
        """Return the tracks whose judged start of travel noise passes more often than wished.

        The parameters' key-on hours are to pass without a crossing, at their confidence.
        """
        most = 1.0 - self.parameters.confidence
        return tuple(c for c, p in self.proofs.items() if p.enough
                     and p.rate.value * self.parameters.key_on_hours / 1000.0 > most)
