"""What each parameter is called and means, on the command line and in the window.

Keyed by the name of its row in `analysis.parameters.TABLE`; limits, units and defaults are the
table's and stand in no sentence here.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from analysis.model.errors import OutOfLimits
from analysis.model.pedal_kind import USES, PedalKind
from analysis.parameters import TABLE, Parameter, Parameters
from bench.wording.shell_quote import pasted

Face = Literal["terminal", "window"]


@dataclass(frozen=True)
class Words:
    """Hold the words of one parameter.

    label: in the window. option: on the command line; that of a yes/no turns its default round,
    and `help` says what then holds. tip: more, in the window ("" for the help). options: of a
    choice, each by its value.
    """

    label: str
    option: str
    help: str
    tip: str = ""
    options: Mapping[str, str] = field(default_factory=dict)


_OWN: Mapping[str, Words] = {
    "key_on_hours": Words(
        "Key-on hours to stay quiet", "--key-on-hours",
        "hours at key-on in which noise alone must not lift a reading past start of travel"),
    "margin_volts": Words(
        "Margin on top", "--margin-volts",
        "added to the budget of every track, at nominal supply"),
    "allowed_lost_travel_percent": Words(
        "Travel I accept to lose", "--allowed-lost-travel",
        "dead band you accept, in % of travel",
        "Above about 10 % a pedal feels as if it had play."),
    "car_allowance_volts": Words(
        "What the car may add at key-on", "--car-allowance-volts",
        "what the car may add at key-on: assumed until a key-on log measures it"),
    "target_rest_volts": Words(
        "Rest", "--target-rest",
        "wanted rest of a track, e.g. a=0.5, of a rheostat in ohms (may be repeated)"),
    "target_full_volts": Words(
        "Full travel", "--target-full",
        "wanted full travel of a track, e.g. a=4.2, of a rheostat in ohms (may be repeated)"),
    "key_ons": Words(
        "Key-ons to outlast", "--key-ons",
        "later key-ons that the dead band must outlast",
        "100 is about a month of use; tenfold more widens the scatter of the rest by about a "
        "quarter."),
    "confidence": Words(
        "Confidence of the bounds", "--confidence", "confidence level of the bounds"),
    "returns": Words(
        "How later returns scatter", "--returns",
        "how later returns may scatter: evenly (normal), as of a pedal that may stick, or wider "
        "still",
        options={"even": "evenly", "stick": "may stick", "wide": "wider still"}),
    "supply_tolerance": Words(
        "Tolerance of the supply", "--supply-tolerance",
        "share by which a supply that was not recorded may be off; 0.02 is 2 %"),
    "supply_stated": Words(
        "Tolerance of the supply is known", "--supply-stated",
        "the tolerance of the supply is known, even as the default; typing --supply-tolerance says "
        "so too",
        "Then a supply that a key-on log lacks is taken to lie within its tolerance."),
    "ratiometric_controller": Words(
        "Ratiometric controller", "--own-reference",
        "the controller does not measure against the supply it feeds to the pedal, so the "
        "supply's tolerance counts",
        "It measures against the very supply that it feeds to the pedal. Untick it for one with a "
        "reference of its own: then the tolerance of the supply counts."),
    "temperature_span_kelvin": Words(
        "Coldest to hottest use", "--temperature-span",
        "kelvin between coldest and hottest use"),
    "track_ppm_per_kelvin": Words(
        "Drift of the track", "--track-ppm", "drift of the track's ratio with temperature"),
    "converter_error_steps": Words(
        "Error of the reading input", "--converter-error",
        "offset and linearity error of the reading input, in its own steps"),
    "pedal_kind": Words(
        "Kind of pedal", "--pedal-kind",
        "what kind of sensor the pedal has; a Hall sensor has no track to wear, trim or turn",
        "Kept in the recording when it is stated before the sweep.",
        options={"potentiometer": "potentiometers", "recorded": "as the recording says",
                 "hall": "Hall sensors that follow their supply",
                 "hall-fixed": "Hall sensors with a reference of their own",
                 "rheostat": "two-wire rheostat"}),
    "pedal_use": Words(
        "What the pedal is for", "--pedal-use", "what the pedal is for",
        options={"throttle": "throttle pedal", "recorded": "as the recording says",
                 "hand-throttle": "hand throttle", "brake": "brake",
                 "regeneration": "regeneration"}),
    "rheostat_known_ohms": Words(
        "Known resistor of a rheostat", "--rheostat-known-ohms",
        "resistor from the supply to the input that reads a two-wire rheostat"),
    "rheostat_known_stated": Words(
        "That resistor is known", "--rheostat-known-stated",
        "the known resistor is known, even as the default; typing --rheostat-known-ohms says so "
        "too",
        "Then nothing says that it was only assumed."),
    "rheostat_series_ohms": Words(
        "Resistor in series with a rheostat", "--rheostat-series-ohms",
        "resistor between a rheostat and ground during the sweep; the controller does not see it"),
    "electrical_angle_degrees": Words(
        "Electrical angle", "--electrical-angle",
        "angle over which the potentiometer's track reaches",
        "The degrees to turn are worked out with it."),
    "track_ohms": Words(
        "Track, end to end", "--track-ohms", "resistance of the track from end to end",
        "The trim resistor is worked out with it."),
    "sensor_output_ohms": Words(
        "Output of a Hall sensor", "--sensor-output-ohms",
        "resistance of a Hall sensor's output, at most"),
    "sensor_lowest_percent": Words(
        "Lowest output of a Hall sensor", "--sensor-lowest",
        "where the output of a Hall sensor ends towards 0 V, in % of its supply",
        "Its papers say; at that end it stands still while the pedal moves."),
    "sensor_highest_percent": Words(
        "Highest output of a Hall sensor", "--sensor-highest",
        "where the output of a Hall sensor ends towards its supply, in % of that",
        "Its papers say; at that end it stands still while the pedal moves."),
    "track_ohms_tolerance": Words(
        "Tolerance of the track's ohms", "--track-tolerance",
        "share by which the track's resistance may be off; 0.2 is 20 %"),
    "pedal_leads": Words(
        "Supply and ground leads of the tracks", "--pedal-leads",
        "whether each track has supply and ground leads of its own or all share one of each",
        "It decides which trim resistor does what, and what the other track does then.",
        options={"own": "own for each track", "joined": "shared by all", "unknown": "not known"}),
    "lead_ohms": Words(
        "Ohms of a lead in the car", "--lead-ohms",
        "resistance of one lead of the car's harness with its contacts, at most"),
    "board_input_ohms": Words(
        "Board's input to ground", "--board-input-ohms",
        "resistance to ground of the input that reads the pedal on the bench, a divider counted; "
        "0 is none"),
    "car_board_ohms": Words(
        "Board in the car, to ground", "--car-board-ohms",
        "resistance to ground of the board that logs in the car beside the controller, its divider "
        "counted; 0 is none",
        "It loads the track while it hangs there, and no more when it is taken off; 100 over 330 "
        "kohm are 430000."),
    "controller_input_ohms": Words(
        "Controller's input to ground", "--controller-input-ohms",
        "resistance to ground of the controller's input, at least",
        "A load pulls a falling track towards full travel."),
    "controller_input_measured": Words(
        "That resistance was measured", "--controller-input-measured",
        "the controller's input has just these ohms to ground, it is not only their least",
        "With the pedal unplugged and the controller dead: ohms from its input to its ground."),
    "controller_pull": Words(
        "Pull at the controller's input", "--controller-pulls",
        "resistor inside the controller that pulls its input up or down; unknown takes the worst "
        "of all",
        "47 kohm to 5 V lift a rest of 0.75 V by 57 mV.",
        options={"none": "none", "assumed": "none, as assumed", "up": "up to its supply",
                 "down": "down to ground", "unknown": "not known"}),
    "controller_pull_ohms": Words(
        "Ohms of that pull", "--controller-pull-ohms",
        "resistance of the pull-up or pull-down; with an unknown pull its least"),
    "controller_pull_volts": Words(
        "Where a pull-up leads to", "--controller-pull-volts",
        "voltage that a pull-up of the controller leads to, at nominal supply"),
    "controller_series_ohms": Words(
        "Series resistor of the controller", "--controller-series-ohms",
        "resistance between the controller's terminal and its converter"),
    "controller_tolerance": Words(
        "Tolerance of the controller's resistors", "--controller-tolerance",
        "share by which the stated resistances of the controller may be off"),
    "direction_closed": Words(
        "A closed line of the direction switch reads", "--direction-closed",
        "what a line of the direction switch reads when it is closed: low (to ground, with a "
        "pull-up) or high (to a supply)",
        options={"high": "high: it closes to a supply", "low": "low: it closes to ground"}),
    "demand_map": Words(
        "Map of the demand", "--map",
        "points of the controller's map, INPUT:DEMAND in % such as 0:0,30:10,100:100, for the "
        "response; they go before the demand half way",
        "Input counts from start of travel to full travel. Points rise; empty for none."),
    "demand_at_half_percent": Words(
        "Demand half way", "--demand-at-half",
        "what the controller asks of the motor half way from start of travel to full travel, in %",
        "50 is a straight line; less is gentler at first."),
    "mismatch_limit_percent": Words(
        "Largest mismatch of the tracks", "--mismatch-limit",
        "largest difference between the tracks that the controller tolerates, in % of travel"),
    "mismatch_time_s": Words(
        "Mismatch tolerated for", "--mismatch-time",
        "how long the controller tolerates a larger difference"),
    "heavy_vehicle": Words(
        "Over 4536 kg", "--heavy-vehicle", "vehicle over 4536 kg: 2 s to return"),
    "cold": Words(
        "Tested at -18 to -40 °C", "--cold", "tested at -18 to -40 C: 3 s to return"),
}


def by_its_name(row: Parameter) -> Words:
    """Return the words of a row that has none of its own: its name and its unit say it."""
    plain = row.name.replace("_", " ")
    return Words(f"{plain[:1].upper()}{plain[1:]}", f"--{row.name.replace('_', '-')}",
                 f"{plain}, in {row.unit}" if row.unit else plain,
                 options={choice: choice for choice in row.choices})


WORDS: Mapping[str, Words] = {
    **_OWN, **{name: by_its_name(row) for name, row in TABLE.items() if name not in _OWN}}
# In full, where a unit stands in a sentence.
_UNITS = {"V": "volts", "h": "hours", "s": "seconds", "K": "kelvin", "%": "per cent",
          "ohm": "ohms", "ppm/K": "ppm per kelvin"}


def options_of(parameters: Parameters) -> str:
    """Return what to type behind a command for these parameters, " --key-ons 250 ..."; or ""."""
    said = []
    for name in parameters.changed:
        row, value, option = TABLE[name], getattr(parameters, name), WORDS[name].option
        if row.kind == "volts by track":
            said += [f"{option} {pasted(f'{t}={v:.6g}')}" for t, v in value.items()]
        elif row.kind == "yes/no":
            said.append(option)
        else:
            said.append(f"{option} {pasted(value) if row.kind == 'points' else value}")
    return "".join(f" {each}" for each in said)


def number_text(value: float) -> str:
    """Return a number as it is typed, without a needless exponent."""
    return f"{value:.0f}" if value == round(value) and abs(value) < 1e9 else f"{value:g}"


def limits_text(row: Parameter) -> str:
    """Return "0 to 5 V", or the choices; "" where there are none to tell."""
    if row.kind == "choice":
        return ", ".join(row.choices)
    if row.kind == "volts by track":
        # The supply is known only when a file is read; it is checked then.
        return "between 0 and the supply"
    if row.kind == "yes/no":
        return ""
    if row.kind == "points":
        return "points INPUT:DEMAND in % that rise, such as 0:0,30:10,100:100"
    return f"{number_text(row.low)} to {number_text(row.high)} {row.unit}".rstrip()


def value_text(name: str, value: Any) -> str:
    """Return a value in the words of the window, with its unit."""
    row = TABLE[name]
    if row.kind == "choice":
        return WORDS[name].options.get(value, str(value))
    if row.kind == "yes/no":
        return "yes" if value else "no"
    if row.kind == "points":
        return value or "none"
    if row.kind == "volts by track":
        return ", ".join(f"{t} {v:.3f} {row.unit}" for t, v in value.items()) or "as found"
    return f"{number_text(value)} {row.unit}".rstrip()


def name_of(name: str, face: Face) -> str:
    """Return what the parameter is called there: its option, or its label."""
    return WORDS[name].option if face == "terminal" else WORDS[name].label


def refusal(error: OutOfLimits, face: Face) -> str:
    """Return in one line which value is out of its limits, and what to use."""
    row = TABLE[error.name]
    head = name_of(error.name, face)
    if error.track is not None:
        return f"{head} of track {error.track!r} is {error.value:g} V; use a voltage " + (
            limits_text(row))
    listed = error.choices or row.kind == "points"
    shown = repr(error.value) if listed else f"{error.value}"
    return f"{head} is {shown}; use {'' if listed else 'a value from '}{limits_text(row)}"


def no_number(name: str, text: str) -> str:
    """Return in one line that what was typed is no number of that unit (command line)."""
    row = TABLE[name]
    unit = _UNITS.get(row.unit, row.unit)
    kind = ("a whole number" if row.kind == "whole" else "a number") + (f" of {unit}" if unit
                                                                        else "")
    example = "4700 or 4.7k" if row.unit == "ohm" else number_text(row.default or row.step)
    return f"{WORDS[name].option} is {text!r}; give {kind} without a unit, such as {example}"


def pedal_text(pedal: PedalKind) -> str:
    """Return what kind of pedal it is and what for, "" where nobody said and nothing is special."""
    kind = WORDS["pedal_kind"].options[pedal.kind] if pedal.stated else ""
    use = "" if pedal.use == USES[0] else WORDS["pedal_use"].options[pedal.use]
    return ", ".join(each for each in (use, kind) if each)


def changes_text(parameters: Parameters) -> str:
    """Return "Margin on top 0.033 V, ..." of those that are not the default, "" for none."""
    return ", ".join(f"{WORDS[n].label} {value_text(n, getattr(parameters, n))}"
                     for n in parameters.changed)
