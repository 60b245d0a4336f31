"""Why a sender cannot be as stated, and why points make no calibration: a line for each code.

Words in curly brackets are the error's values; one in square brackets is a value that is stated
of a sender: each face says it by its own name for it (`stated_name`).
"""

from collections.abc import Mapping
from typing import Any

from analysis.model.number_format import ohm_text

WORDS: Mapping[str, str | tuple[str, str]] = {
    # A sender as stated.
    "no such sender": "no kind of sender {kind!r}; use one of {kinds}",
    "no such stated value": "a {kind} has no {stated!r}; it has {known}",
    "limit of the input not above 0":
        "the board's limit is {limit_volts:g} V; state what its inputs can take",
    "stated value not above 0": "{stated} of the {kind} is {value:g}; give a number above 0",
    "stated value below 0": "{stated} of the {kind} is {value:g}; give 0 or more",
    "shown value out of reason":
        "{stated} of the {kind} is {value:g}; give what is shown, 0 if not read",
    "both or none": "{first} and {second} of the {kind} go together: state both, or none {none}",
    "input beyond its limit":
        "{cause} puts {pin_volts:.4g} V on the board's input, above its limit of {limit_volts:g} "
        "V; {remedy}",
    "input below ground":
        "{cause} puts {pin_volts:.4g} V on the board's input, below ground; shift the level or "
        "turn the leads round",
    "hertz below 0":
        "[hertz] of the pilot is {hertz:g}; give what the meter shows, 0 if not measured",
    "duty out of reason":
        "[duty_percent] of the pilot is {duty_percent:g}; give 0 to 100, 0 if not measured",
    "tap ratio below 1": "[other_ratios] of the divider are {ratios}; each is at least 1",
    "ends of the range are the same":
        "low and high of the sender are the same ({low_value:g} to {high_value:g} for "
        "{low_volts:g} to {high_volts:g} V); state both ends of its range",
    "values of the range are the same":
        "[low_value] and [high_value] are both {low_value:g}; state both ends of the range",
    "span is 0":
        "[span_volts] of the hall is {span_volts:g}; give the volts from zero to rated current",
    "gain is 0": "[gain] of the {kind} is {gain:g}; give the amplifier's gain, volts out per volt "
                 "in",
    "input of the amplifier out of reason":
        "[input_ohms] of the isolated is {input_ohms:g} and [input_limit_volts] "
        "{input_limit_volts:g}; give numbers above 0, or leave them out",
    "amplifier beyond its limit":
        "{highest_volts:g} V through 1:{ratio:.4g} puts {into_volts:.4g} V on the amplifier's "
        "input, above its {limit_volts:g} V; use a larger top resistor",
    "no platinum of that resistance":
        "[r0_ohms] is {r0_ohms:g}; a platinum thermometer has 10 to 10000",
    "amperes below 0":
        "[highest_amps] is {highest_amps:g} and [continuous_amps] {continuous_amps:g}; they are "
        "sizes: give numbers of 0 or more",
    "channel holds nothing known":
        "[channel_holds] of the speed is {holds!r}; use one of {known}",
    "size of the count out of reason":
        "[count_size] of the speed is {count_size:g}; give where the count starts again, such as "
        "65536, or 0",
    "circumference out of reason":
        "[circumference_metres] of the speed is {circumference_metres:g}; give 0.2 to 5",
    "tyre and circumference stated":
        "[tyre] and [circumference_metres] are both stated; state one of them",
    "no size of a tyre":
        "tyre {size!r} is no size as on a tyre's side; write it like 185/65R15, or state "
        "[circumference_metres]",
    "size of no road tyre":
        "tyre {size!r} is a size that no road tyre has; write it like 185/65R15, or state "
        "[circumference_metres]",
    # A window of readings that is to become a point.
    "too few readings":
        "{readings} readings in the window; at least {least} are needed: wait longer",
    "no pulses":
        "no pulses: the input shows one level only; turn the wheel, or look at the wiring",
    "too few pulses": "only {pulses} pulses in the window; take a longer one",
    "pulses too fast":
        "the pulses are too fast for these readings: up to {most_hertz:.3g} Hz can be measured; "
        "read faster, or use a board that counts ([channel_holds]: hertz or count)",
    "pulses uneven":
        "the pulses come unevenly: the speed changes within the window, or pulses are missing; "
        "hold the speed, and look at the gap between sensor and wheel",
    "count went back":
        "the count of pulses went back: the board started anew, or its count starts again at a "
        "size that is not stated ([count_size], such as 65536)",
    "too few pulses counted":
        "{pulses:.0f} pulses were counted in {seconds:.3g} s; it stands, or wait longer",
    "no readings came yet": "no readings came yet; wait a moment",
    "window not full": "only {seconds:.1f} s of readings; wait for {window_s:g} s",
    # The meter and the deviation that is allowed.
    "limits of the meter not understood":
        "the meter's limits {text!r} are not understood; write for example \"0.5% + 2 digits\" or "
        "\"±0.5 C\"",
    "limit of the meter out of reason": "the meter's {limit} is {value:g}; give 0 to {most:g}",
    "resolution of the meter not known":
        "the meter is good to {digits:g} {digits_word}, but its resolution is not known; state "
        "what one step of its last place is worth",
    "tolerance not above 0": "the tolerance is {tolerance:g}; give a number above 0",
    # Points and the curve through them.
    "no points": "there are no points; take at least 3",
    "one point": "{points} point; take at least 2, better 5",
    "points of unequal number": "{what} has {values} values for {points} points",
    "point lacks a value": "point {point} has no {what}; leave it out",
    "point is no value":
        "point {point} ({volts:.4g} V at the input) is no value of this sender; leave it out",
    "points are no values of the sender":
        "{volts:.3g} {unit} at the input is no value of the {kind} as stated: {hint}",
    "too few usable points": "{usable} usable points of {points}: {why}",
    "points of one reading":
        "all points have the same reading, {reading:g}; take points at other values",
    "too few points for the form":
        "{points} points for a {form} curve; at least {least} are needed",
    "too few points for a table": "{points} different points for a table; take at least 3",
    "too few points for a kink":
        "{points} different points for a line with a kink; take at least {least} of known "
        "uncertainty",
    "too few different points":
        "too few different points for a {form} curve; take points at other values",
    "no resistance of a thermistor":
        "a resistance of {ohms:g} ohm is not one of a thermistor; check the wiring and leave that "
        "point out",
    "no form fits": "no form fits the points: {failures}",
    "outside what was calibrated":
        "{value:g} {unit} lies outside what was calibrated; take points up to there",
    "curve turns":
        "{value:g} {unit} belongs to more than one reading: the curve turns; calibrate a smaller "
        "range",
    "calibrations share no range":
        "the two calibrations share no range between {low_volts:g} and {high_volts:g} V; "
        "calibrate the same range again",
    # A straight line through points (analysis/statistics).
    "too few points for a line": "{points} points; a line needs at least 2",
    "too few points without uncertainty":
        "{points} points and no uncertainty of y; take at least 3 points",
    "x and y of unequal number":
        "{x_values} values of x and {y_values} of y; give one y for every x",
    "point is not a number": "a point is not a number; leave it out",
    "points of one x": "all points have the same x, {x:g}; take points at other values",
    "uncertainty of x alone": "an uncertainty of x was given without one of y; give both",
    "uncertainty below 0":
        "an uncertainty of {axis} is {least:g}; it must be a number of 0 or more",
    "uncertainty of another shape":
        "the uncertainty of {axis} has shape {shape} for {points} points; give one number, "
        "{points} numbers, or a matrix",
    "covariance of another shape":
        "the covariance of x and y has shape {shape} for {points} points; give {points} numbers "
        "or a matrix",
    "uncertainties contradict each other":
        "the uncertainties of the points contradict each other (their covariance is not "
        "positive); check u(x), u(y) and the covariances",
    "line does not settle":
        "the line does not settle: the uncertainties are as large as the distances between the "
        "points; take points further apart",
    "slope is none":
        "the slope {slope:g} is not distinguishable from 0 (standard uncertainty {uncertainty:g}), "
        "so no x belongs to y = {y:g}; take points further apart",
    # Bounds on later readings (analysis/statistics).
    "future readings below 1": "number of future readings is {future}; use 1 or more",
    "crossings not above 0": "allowed number of crossings is {allowed}; use a number above 0",
    "share not between 0 and 1": "{share} is {value}; use a value between 0 and 1",
    "more seen than there are": "{seen} of {of} is no share; use 0 to the number seen",
    "unknown laws": "set of laws is {laws!r}; use \"stick\" or \"wide\"",
}

# What puts too many volts on the board's input, and what helps: by the kind of sender.
_BEYOND: Mapping[str, tuple[str, str]] = {
    "divider": ("{highest_volts:g} V through 1:{ratio:.4g}",
                "use a top resistor of at least {least} with this bottom"),
    "isolated": ("{highest_volts:g} V through 1:{ratio:.4g} and a gain of {gain:g}",
                 "use a larger top resistor, or a divider behind the amplifier"),
    "shunt": ("{most_amps:g} A through {shunt_milliohms:.4g} mohm times {gain:g}",
              "use a smaller gain or a larger shunt"),
    "hall": ("{rated_amps:g} A", "use a divider behind the sensor"),
    "gauge": ("an open sender's lead",
              "the gauge pulls it up to its own supply: put a divider in between, [top_ohms] and "
              "[bottom_ohms]{top_least}"),
    "proximity": ("an unplugged proximity line", "use a divider of at least 100 kohm"),
    "pilot": ("{line_volts:+g} V on the pilot line", "change the three resistors"),
    "volts": ("the sender at the top of its range", "put a divider in between"),
    "loop": ("20 mA through {sense_ohms:g} ohm", "use a smaller sense resistor"),
}
# Of a kind that has no row: a resistive one pulled up to its supply.
_OPEN = ("an open {kind}", "feed the known resistor from the board's own supply")
# What it means to leave out both of two resistors.
_NONE = {"gauge": "where the input sits on the lead itself",
         "isolated": "for a module that takes the line itself"}
_POINT_HAS = {"volts": "volts", "volts_uncertainty": "volts uncertainty", "meter": "meter value"}


def made_of(values: Mapping[str, Any]) -> dict[str, str]:
    """Return what these sentences are made of besides the values themselves."""
    made = {"none": _NONE.get(values.get("kind", ""), "")}
    least = values.get("least_ohms", 0.0)
    filled = {**values, "least": ohm_text(least),
              "top_least": f", top at least {ohm_text(least)}" if least > 0 else "",
              "shunt_milliohms": 1e3 * values.get("shunt_ohms", 0.0)}
    if "pin_volts" in values:
        cause, remedy = _BEYOND.get(values["kind"], _OPEN)
        made |= {"cause": cause.format(**filled), "remedy": remedy.format(**filled)}
    if "digits" in values:
        made["digits_word"] = "digit" if values["digits"] == 1 else "digits"
    if "point" in values and "what" in values:
        made["what"] = _POINT_HAS.get(values["what"], values["what"])
    return made
