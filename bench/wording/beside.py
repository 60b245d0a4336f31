"""What a sweep shows beside its levels: switches, the direction, sensors at their limits."""

from bench.wording.face import Face, Values, Words, capital, volts
from bench.wording.limb import worked


def _switch(v: Values, face: Face) -> str:
    """Return where a switch changes on the way down and back, and how it bounces."""
    where = (f"at {v['make_percent']:.1f} % of travel" if v["presses"] == 1 else
             f"between {v['earliest_percent']:.1f} and {v['latest_percent']:.1f} % of travel "
             f"({v['make_percent']:.1f} % on a usual {worked(v).press} of {v['presses']})")
    back = ("" if v["release_percent"] is None else
            f", and back at {v['release_percent']:.1f} %")
    bounce = ("it does not bounce" if v["bounce_s"] <= 0 else
              f"it bounces for up to {1000 * v['bounce_s']:.0f} ms")
    state, line = ("closed", "low") if v["closed_at_rest"] else ("open", "high")
    return (f"switch {v['switch']}, {state} at rest (its line {line}), changes {where}{back}; "
            f"{bounce}")


def _switch_too_late(v: Values, face: Face) -> str:
    missed = (f" On {worked(v).times(v['missed'])} it never changed."
              if v["missed"] else "")
    behind = "" if not v["behind"] else (
        f" The start of travel of {v['start_of']}, {volts(v, 'start_volts')}, lies at "
        f"{v['start_percent']:.1f} % and comes before it on {v['behind']} of {v['presses']}: a "
        "controller that reads both then sees power asked for with "
        f"the {worked(v).limb} off.")
    return (f"Repair before driving: {_switch(v, face)}.{behind}{missed} Adjust the switch, or the "
            f"cam that works it, so that it changes on every {worked(v).press} before the start "
            "of travel; or "
            "start travel beyond where it changes latest.")


def _direction(v: Values, face: Face) -> str:
    said = [f"{what} at {v[f'{what}_presses']}"
            for what in ("forward", "reverse", "neutral", "both") if v[f"{what}_presses"]]
    moved = ("it was not moved: whether it changes was not seen" if not v["changes"] else
             f"it was moved {v['changes']} time{'s' * (v['changes'] != 1)}, "
             + ("without bounce" if v["bounce_s"] <= 0 else
                f"and settles within {1000 * v['bounce_s']:.0f} ms"))
    return (f"Direction switch: {', '.join(said) or 'no state'} of {v['presses']} "
            f"{worked(v).presses}; "
            f"{moved}.")


def _both_directions(v: Values, face: Face) -> str:
    return (f"Repair before driving: forward and reverse were closed at once, {v['times']} "
            f"time{'s' * (v['times'] != 1)}, {1000 * v['seconds']:.0f} ms in all, first at "
            f"{v['at_s']:.2f} s. Which way the motor then pulls is the controller's choice: "
            "replace the switch by one that opens before it makes, or look for its leads touching. "
            "Where a closed line reads high, state that"
            + face.of(" (--direction-closed high).", " on the page Decide.", "."))


_LIMIT_OPTIONS = {"lowest": "--sensor-lowest", "highest": "--sensor-highest"}


def _at_limit(v: Values) -> str:
    """Return at which end a Hall sensor stands, and on what ground."""
    side = "below" if v["end"] == "lowest" else "above"
    ground = "stated" if v["stated"] else "usual, not stated"
    return (f"track {v['channel']}, {v['volts']:.3f} V, is {v['percent']:.1f} % of its supply, "
            f"{side} the {v['limit_percent']:g} % where its output ends ({ground}): there a Hall "
            "sensor stands still while the pedal moves")


def _outside_supply(v: Values, face: Face) -> str:
    where = "below 0 V" if v["below"] else f"above its supply of {v['supply_volts']:g} V"
    why = ("its leads are swapped, or the input shifts what it reads" if v["below"] else
           "the scale of the input or the stated supply is wrong")
    state = face.of(
        " (--offset COLUMN=VOLTS)" if v["below"] else " (--scale, --supply-volts)",
        " on the page Wire up", "")
    return (f"Do not drive: track {v['channel']} reads {v['rest_volts']:.3f} V at rest "
            f"and {v['full_volts']:.3f} V at full travel, {where}, which no sensor fed from 0 V to "
            f"{v['supply_volts']:g} V can give: {why}. Power off, check the leads; where the input "
            f"is made so, state its {'offset' if v['below'] else 'scale'}{state}, and sweep again.")


WORDS: dict[str, Words] = {
    "switch measured": lambda v, face: f"{capital(_switch(v, face))}" + (
        "." if v["start_of"] is None else
        f"; every start of travel lies beyond it on every {worked(v).press} (the first, of "
        f"{v['start_of']}, "
        f"at {v['start_percent']:.1f} %)."),
    "switch too late": _switch_too_late,
    "switch silent": lambda v, face: (
        f"Switch {v['switch']} never changed between two levels in this sweep: whether it changes "
        "before the start of travel was not seen. Check its lead and its input, and sweep again."),
    "direction measured": _direction,
    "both directions closed": _both_directions,
    "direction changed while pressed": lambda v, face: (
        f"The direction was changed with the {worked(v).thing} {worked(v).pressed}, {v['times']} "
        f"time{'s' * (v['times'] != 1)}, first at {v['at_s']:.2f} s. In the car the controller "
        f"must ignore that until the {worked(v).thing} is let go and the car stands: prove it, "
        "wheels off the "
        "ground."),
    "hand throttle": lambda v, face: (
        "A hand throttle, grip or lever: what is said of a pedal here is said of it. It must "
        "spring "
        "back to rest by itself, cold and wet too, and with the steering at both ends of its "
        "travel: a lever that stays where it is put keeps the motor pulling with nobody holding "
        "it."),
    "outside its supply": _outside_supply,
    "rests at its output limit": lambda v, face: (
        f"{'Repair before driving: the' if v['stated'] else 'The'} rest of {_at_limit(v)}, so a "
        "pedal that comes back short of rest may read the same. "
        "Have its magnet or its calibration seen to"
        + ("." if v["stated"] else "; where its papers give the sensor more room, state that"
           + face.of(f" ({_LIMIT_OPTIONS[v['end']]}).", " among the parameters.", "."))),
    "full at its output limit": lambda v, face: (
        f"The full travel of {_at_limit(v)}: the last of the travel may change nothing."),
}
