"""What the user asks for: hours, confidence, limits, targets. Everything has a stated default.

Each field of `Parameters` is one row of the one table, `TABLE`: the options of the command line,
the fields of the window, what it remembers, and docs/commands.md are all made from it. Its words
stand in `bench/wording/parameters.py`.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any, Literal

from analysis.model.demand_map import points_of
from analysis.model.errors import BadParameter, OutOfLimits
from analysis.model.pedal_kind import KINDS, RECORDED, USES

Kind = Literal["number", "whole", "choice", "yes/no", "volts by track", "points"]


@dataclass(frozen=True)
class Parameter:
    """Describe one parameter: a row of TABLE.

    unit: as it is printed, "" for none. low, high: limits, both included. step: of one turn in the
    window. common: the range a slider covers, None for no slider. usual: shown first in both faces,
    else under "more". remembered: by the window, from one day to the next. judges_log: what a
    key-on log shows of its car rests on it, so a change judges the log again.
    """

    kind: Kind
    default: Any
    unit: str = ""
    low: float = -math.inf
    high: float = math.inf
    step: float = 1.0
    common: tuple[float, float] | None = None
    choices: tuple[str, ...] = ()
    usual: bool = False
    remembered: bool = True
    judges_log: bool = False
    name: str = ""

    @property
    def decimals(self) -> int:
        """Return how many decimals its step, its limits and its default need."""
        finest = [self.step, self.low, self.high,
                  self.default if self.kind == "number" else 0.0]
        return max(len(f"{v:.6f}".rstrip("0").partition(".")[2]) for v in finest
                   if math.isfinite(v))

    def from_text(self, text: str) -> Any:
        """Return a value other than volts by track from its text; raise ValueError on no such."""
        if self.kind == "yes/no":
            return {"true": True, "false": False}.get(text.lower(), text)
        if self.kind in ("choice", "points"):
            return text
        return int(float(text)) if self.kind == "whole" else float(text)

    def check(self, value: Any) -> None:
        """Raise OutOfLimits when the value is not within the limits, or not among the choices."""
        if self.kind == "choice" and value not in self.choices:
            raise OutOfLimits(self.name, value, choices=self.choices)
        if self.kind == "points":
            try:
                points_of(value)
            except (ValueError, BadParameter):
                raise OutOfLimits(self.name, value) from None
        if self.kind == "yes/no" and not isinstance(value, bool):
            raise OutOfLimits(self.name, value, choices=("yes", "no"))
        if self.kind in ("number", "whole") and not self.low <= value <= self.high:
            raise OutOfLimits(self.name, value, (self.low, self.high), self.unit)
        if self.kind == "volts by track":
            for track, volts in value.items():
                if not self.low <= volts <= self.high:
                    raise OutOfLimits(self.name, volts, (self.low, self.high), self.unit,
                                      track=track)


def _number(default: float, unit: str, limits: tuple[float, float], step: float,
            **how: Any) -> Any:
    return _row("number", default, unit=unit, low=limits[0], high=limits[1], step=step, **how)


def _row(kind: Kind, default: Any, **how: Any) -> Any:
    row = Parameter(kind, default, **how)
    if kind == "volts by track":
        return field(default_factory=dict, metadata={"row": row})
    return field(default=default, metadata={"row": row})


@dataclass(frozen=True)
class Parameters:
    """Hold the user's parameters, one field a row of TABLE; limits are checked once, here.

    key_on_hours: hours at key-on over which electrical noise alone must not lift a reading
        past start of travel.
    margin_volts: added on top of the budget, at nominal supply.
    allowed_lost_travel_percent: dead band the driver accepts, in % of travel.
    car_allowance_volts: what the car may add at key-on (ground offset, field), until a key-on
        log of the same pedal measures it.
    target_rest_volts, target_full_volts: by track name, where the user wants each track; of a
        rheostat in ohms.
    key_ons: number of later key-ons (returns of the pedal) the dead band must outlast. 100 is
        about a month of use; tenfold more widens the scatter item by about a quarter
        (docs/method_deadband.md, "How many key-ons").
    confidence: of the tolerance and prediction bounds.
    returns: the law that later returns are taken to follow: "even" (normal), "stick" (a pedal that
        may stick: the worst of four laws) or "wide" (wilder ones too).
    supply_tolerance: relative, for tracks whose supply was not recorded.
    supply_stated: that tolerance is known, even as the usual value, so it bounds what was not
        recorded; else it is a guess.
    ratiometric_controller: whether the controller measures a track against the very supply it
        feeds it from; then a recorded ratio needs no allowance for the supply.
    temperature_span_kelvin, track_ppm_per_kelvin: drift of the rest ratio with temperature.
    converter_error_steps: offset and linearity error of the reading input, in its own steps.
    pedal_kind, pedal_use: of what kind the pedal is and what for, where the recording's header does
        not say or is wrong; "recorded" as it says.
    rheostat_known_ohms, rheostat_series_ohms: of a two-wire rheostat's sweep: the resistor from the
        supply to the input, and the one put between the rheostat and ground; its full ohms are
        track_ohms.
    rheostat_known_stated: that resistor is known, even as the usual value; else it is a guess.
    electrical_angle_degrees: of the potentiometer's element, for the turning remedy.
    track_ohms: end-to-end resistance of the track, for the trim resistor.
    sensor_output_ohms: of the output of a Hall sensor, at most (common practice, no source).
    sensor_lowest_percent, sensor_highest_percent: of its supply, where the output stage of a Hall
        sensor ends (common practice, no source); its papers say.
    track_ohms_tolerance: relative, of track_ohms.
    pedal_leads: whether tracks have a supply and a ground lead each ("own") or share both
        ("joined").
    lead_ohms: of each lead of the car's harness with its contacts, at most.
    board_input_ohms: to ground, of the input that reads the bench; 0 counts as none.
    car_board_ohms: to ground, of the board that logs in the car beside the controller, dividers
        counted; 0 counts as none. It loads the track while it hangs there, and not afterwards.
    controller_input_ohms: to ground, of the controller's input: at least so much, or, with
        controller_input_measured, within controller_tolerance of it.
    controller_pull: what pulls at that input: "assumed" (none, and nobody stated it), "none", "up",
        "down", or "unknown" (any of these, of controller_pull_ohms or more).
    controller_pull_ohms, controller_pull_volts: of that resistor, and where a pull-up leads to.
    controller_series_ohms: between the controller's terminal and its converter.
    controller_tolerance: relative, of the ohms that are stated of it.
    direction_closed: what a closed line of a direction switch reads: "low" (it closes to ground,
        with a pull-up) or "high" (to a supply, through a divider).
    demand_at_half_percent: what the controller asks of the motor half way between start of travel
        and full travel; 50 is a straight line.
    demand_map: points "INPUT:DEMAND,..." in % of the controller's map; "" none. They go before
        demand_at_half_percent.
    mismatch_limit_percent, mismatch_time_s: what the controller is to tolerate between tracks
        (defaults: Formula SAE rules T.4.2, 10 % for 100 ms).
    heavy_vehicle, cold: choose the return time limit of 49 CFR 571.124 S5.3.

    Raises OutOfLimits. What belongs to one car or one pedal is not remembered.
    """

    key_on_hours: float = _number(1000.0, "h", (0.1, 1e6), 1.0, common=(1.0, 1e5), usual=True,
                                  judges_log=True)
    margin_volts: float = _number(0.0, "V", (0.0, 5.0), 0.005, common=(0.0, 0.2), usual=True)
    allowed_lost_travel_percent: float = _number(5.0, "%", (0.1, 50.0), 0.5, common=(0.5, 20.0),
                                                 usual=True)
    car_allowance_volts: float = _number(0.030, "V", (0.0, 5.0), 0.005, common=(0.0, 0.2),
                                         usual=True, remembered=False, judges_log=True)
    target_rest_volts: Mapping[str, float] = _row("volts by track", {}, unit="V", low=-60.0,
                                                  high=10e6, usual=True, remembered=False)
    target_full_volts: Mapping[str, float] = _row("volts by track", {}, unit="V", low=-60.0,
                                                  high=10e6, remembered=False)
    key_ons: int = _row("whole", 100, low=1, high=1_000_000, judges_log=True)
    confidence: float = _number(0.95, "", (0.5, 0.9999), 0.01, judges_log=True)
    returns: str = _row("choice", "stick", choices=("even", "stick", "wide"), judges_log=True)
    supply_tolerance: float = _number(0.02, "", (0.0, 0.5), 0.005, judges_log=True)
    supply_stated: bool = _row("yes/no", False, judges_log=True)
    ratiometric_controller: bool = _row("yes/no", True, judges_log=True)
    temperature_span_kelvin: float = _number(40.0, "K", (0.0, 200.0), 0.5)
    track_ppm_per_kelvin: float = _number(10.0, "ppm/K", (0.0, 10_000.0), 0.5)
    converter_error_steps: float = _number(1.0, "steps", (0.0, 1000.0), 0.5, judges_log=True)
    pedal_kind: str = _row("choice", RECORDED, choices=(KINDS[0], RECORDED, *KINDS[1:]),
                           remembered=False)
    pedal_use: str = _row("choice", RECORDED, choices=(USES[0], RECORDED, *USES[1:]),
                          remembered=False)
    rheostat_known_ohms: float = _number(4700.0, "ohm", (10.0, 1e6), 1.0)
    rheostat_known_stated: bool = _row("yes/no", False, remembered=False)
    rheostat_series_ohms: float = _number(0.0, "ohm", (0.0, 1e5), 10.0)
    electrical_angle_degrees: float = _number(270.0, "degrees", (10.0, 3600.0), 0.5)
    track_ohms: float = _number(5000.0, "ohm", (10.0, 10e6), 10.0)
    sensor_output_ohms: float = _number(100.0, "ohm", (0.0, 1e6), 10.0)
    sensor_lowest_percent: float = _number(5.0, "%", (0.0, 50.0), 0.5)
    sensor_highest_percent: float = _number(95.0, "%", (50.0, 100.0), 0.5)
    track_ohms_tolerance: float = _number(0.2, "", (0.0, 0.9), 0.05, judges_log=True)
    pedal_leads: str = _row("choice", "unknown", choices=("own", "joined", "unknown"),
                            remembered=False, judges_log=True)
    lead_ohms: float = _number(0.0, "ohm", (0.0, 1000.0), 0.5, judges_log=True)
    board_input_ohms: float = _number(0.0, "ohm", (0.0, 1e9), 1000.0, judges_log=True)
    car_board_ohms: float = _number(0.0, "ohm", (0.0, 1e9), 1000.0, remembered=False,
                                    judges_log=True)
    controller_input_ohms: float = _number(100e3, "ohm", (1000.0, 1e9), 1000.0, remembered=False,
                                           judges_log=True)
    controller_input_measured: bool = _row("yes/no", False, remembered=False, judges_log=True)
    controller_pull: str = _row("choice", "assumed", remembered=False, judges_log=True,
                                choices=("none", "assumed", "up", "down", "unknown"))
    controller_pull_ohms: float = _number(47e3, "ohm", (100.0, 1e9), 1000.0, remembered=False,
                                          judges_log=True)
    controller_pull_volts: float = _number(5.0, "V", (0.5, 60.0), 0.1, remembered=False,
                                           judges_log=True)
    controller_series_ohms: float = _number(0.0, "ohm", (0.0, 1e6), 100.0, remembered=False,
                                            judges_log=True)
    controller_tolerance: float = _number(0.05, "", (0.0, 0.9), 0.01, judges_log=True)
    direction_closed: str = _row("choice", "low", choices=("low", "high"), remembered=False,
                                 judges_log=True)
    demand_at_half_percent: float = _number(50.0, "%", (0.0, 100.0), 1.0)
    demand_map: str = _row("points", "", remembered=False)
    mismatch_limit_percent: float = _number(10.0, "%", (0.1, 100.0), 0.5)
    mismatch_time_s: float = _number(0.1, "s", (0.0, 10.0), 0.005)
    heavy_vehicle: bool = _row("yes/no", False)
    cold: bool = _row("yes/no", False, remembered=False)

    def __post_init__(self) -> None:
        for name, row in TABLE.items():
            row.check(getattr(self, name))

    @property
    def changed(self) -> tuple[str, ...]:
        """Return the names of those that differ from their default, in the order of TABLE."""
        return tuple(name for name, row in TABLE.items() if getattr(self, name) != row.default)


# The usual ones first.
TABLE: Mapping[str, Parameter] = {
    f.name: replace(f.metadata["row"], name=f.name) for f in fields(Parameters)}
