"""What the user asks for: hours, confidence, limits, targets. Everything has a stated default."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from analysis.model.errors import BadParameter


@dataclass(frozen=True)
class Parameters:
    """Hold the user's parameters; ranges are checked once, here.

    key_on_hours: hours at key-on over which electrical noise alone must not lift a reading
        past start of travel (0.1 to 1e6 h).
    key_ons: number of later key-ons (returns of the pedal) the dead band must outlast. 100 is
        about a month of use; tenfold more widens the scatter item by about a quarter
        (docs/method_deadband.md, "How many key-ons").
    confidence: of the tolerance and prediction bounds (0.5 to 0.9999).
    margin_volts: added on top of the budget, at nominal supply.
    car_allowance_volts: what the car may add at key-on (ground offset, field), until a key-on
        log of the same pedal measures it.
    supply_tolerance: relative, for tracks whose supply was not recorded.
    ratiometric_controller: whether the controller measures a track against the very supply it
        feeds it from; then a recorded ratio needs no allowance for the supply.
    temperature_span_kelvin, track_ppm_per_kelvin: drift of the rest ratio with temperature.
    converter_error_steps: offset and linearity error of the reading input, in its own steps.
    allowed_lost_travel_percent: dead band the driver accepts, in % of travel.
    target_rest_volts, target_full_volts: by track name, where the user wants each track.
    electrical_angle_degrees: of the potentiometer's element, for the turning remedy.
    track_ohms: end-to-end resistance of the track, for the trim resistor.
    mismatch_limit_percent, mismatch_time_s: what the controller is to tolerate between tracks
        (defaults: Formula SAE rules T.4.2, 10 % for 100 ms).
    returns: the law that later returns are taken to follow: "even" (normal), "stick" (a pedal that
        may stick: the worst of four laws) or "wide" (wilder ones too).
    heavy_vehicle, cold: choose the return time limit of 49 CFR 571.124 S5.3.
    """

    key_on_hours: float = 1000.0
    key_ons: int = 100
    confidence: float = 0.95
    margin_volts: float = 0.0
    car_allowance_volts: float = 0.030
    supply_tolerance: float = 0.02
    ratiometric_controller: bool = True
    temperature_span_kelvin: float = 40.0
    track_ppm_per_kelvin: float = 10.0
    converter_error_steps: float = 1.0
    allowed_lost_travel_percent: float = 5.0
    target_rest_volts: Mapping[str, float] = field(default_factory=dict)
    target_full_volts: Mapping[str, float] = field(default_factory=dict)
    electrical_angle_degrees: float = 270.0
    track_ohms: float = 5000.0
    mismatch_limit_percent: float = 10.0
    mismatch_time_s: float = 0.1
    returns: str = "stick"
    heavy_vehicle: bool = False
    cold: bool = False

    def __post_init__(self) -> None:
        limits: dict[str, tuple[float, float]] = {
            "key_on_hours": (0.1, 1e6),
            "key_ons": (1, 1_000_000),
            "confidence": (0.5, 0.9999),
            "margin_volts": (0.0, 5.0),
            "car_allowance_volts": (0.0, 5.0),
            "supply_tolerance": (0.0, 0.5),
            "temperature_span_kelvin": (0.0, 200.0),
            "track_ppm_per_kelvin": (0.0, 10_000.0),
            "converter_error_steps": (0.0, 1000.0),
            "allowed_lost_travel_percent": (0.1, 50.0),
            "electrical_angle_degrees": (10.0, 3600.0),
            "track_ohms": (10.0, 10e6),
            "mismatch_limit_percent": (0.1, 100.0),
            "mismatch_time_s": (0.0, 10.0),
        }
        for name, (low, high) in limits.items():
            value = getattr(self, name)
            if not low <= value <= high:
                raise BadParameter(f"{name} is {value}; use a value from {low:g} to {high:g}")
        if self.returns not in ("even", "stick", "wide"):
            raise BadParameter(f"returns is {self.returns!r}; use even, stick or wide")
        for name in ("target_rest_volts", "target_full_volts"):
            for track, value in getattr(self, name).items():
                if not -60.0 <= value <= 60.0:
                    raise BadParameter(
                        f"{name} of track {track!r} is {value} V; use a value from -60 to 60 V")
