"""Why no level of a sweep can be believed, or none is stated yet."""

from bench.wording.face import Face, Values, Words, capital, volts
from bench.wording.limb import worked


def supply_is_another(v: Values, face: Face) -> str:
    """Return how the supply is another than meant, and what to do; no full stop."""
    said = f"the supply reads {v['volts']:.2f} V where {v['nominal_volts']:g} V is meant"
    if v["usual_volts"] is not None:
        other = v["usual_volts"]
        say = face.of(f"say --supply-volts {other:g}", f"give {other:g} V as its nominal voltage")
        scale = face.of(" (--scale)", "")
        return (f"{said}: if the pedal is fed with {other:g} V, {say}; else correct the scale of "
                f"its channel{scale}")
    if v["lead_off"]:
        return (f"{said}: its lead is off (an open input floats) or its "
                f"{face.of('--scale', 'scale')} leaves out a divider; clip it to the pedal's "
                "supply")
    return (f"{said}: correct the scale of its channel{face.of(' (--scale)', '')} or its nominal "
            f"voltage{face.of(' (--supply-volts)', '')}, or repair the supply")


def _another(v: Values, face: Face) -> str:
    return (f"{capital(supply_is_another(v, face))}, and sweep again. Every level would be wrong "
            "by as much, so no settings are given.")


def bench_supply_clipped(v: Values, face: Face) -> str:
    """Return that a bench supply may be higher than read, and what to do; no full stop."""
    return (f"{_stands(v)}, and a bench supply feeds the pedal: it may be higher than read, and "
            "every level wrong by an unknown share, so no settings are given; put a divider "
            f"before that input, state it{_scaled(face)}, and sweep again")


def _clipped(v: Values, face: Face) -> str:
    before = face.of("before the sweep (--fed-by board, or bench)", "before the sweep")
    return (f"{capital(_stands(v))}: right only where the board's own supply feeds the pedal. Say "
            f"what feeds it: {before}, or as fed_by = \"board\" at the head of the file. Where a "
            f"bench supply does, put a divider before that input, state it{_scaled(face)}, and "
            "sweep again.")


def _stands(v: Values) -> str:
    return (f"the supply {v['column']} reads the end of its input's range in "
            f"{100 * v['share']:.0f} % of the sweep")


def _scaled(face: Face) -> str:
    return face.of(" (--scale supply=2)", "")


def _reference(v: Values, face: Face) -> str:
    why = ("or its internal reference was never trimmed" if v["untrimmed"] else
           "more than its internal reference can be wrong by")
    return (f"the board measures {v['volts']:.2f} V of supply where {v['reference_volts']:g} V at "
            f"full scale are stated ({v['off_percent']:+.0f} %, {why}): every volt would be wrong "
            f"by as much; measure its supply with a meter and state "
            f"it{face.of(' (--reference-volts)', '')}, or feed it better")


def _not_enough(v: Values, face: Face) -> str:
    more = [f"{v['more_presses']} more full {worked(v).presses}" if v["more_presses"] else "",
            f"{v['more_lift_offs']} more quick {worked(v).lift_off}s" if v["more_lift_offs"]
            else ""]
    return (f"Not enough yet: {v['presses']} full "
            f"{worked(v).press if v['presses'] == 1 else worked(v).presses} and "
            f"{v['returns']} return{'s' * (v['returns'] != 1)} to rest were seen, and no value is "
            f"stated from fewer than {v['least_presses']} and {v['least_returns']}. Sweep again: "
            f"{' and '.join(m for m in more if m) or f'{worked(v).press_right} each time'}.")


def _rest_end(v: Values, face: Face) -> str:
    return ("Which end of travel is rest could not be told: what speaks for it disagrees (prompts, "
            "where the recording starts and ends, how long it stays, which way it moves fastest). "
            f"No settings are given; record again, starting and ending with the {worked(v).limb} "
            "off, "
            f"with a few quick {worked(v).lift_off}s.")


def _rest_contradicted(v: Values, face: Face) -> str:
    wanted = face.of(f"--target-rest {v['track']} is", "the wanted rest is")
    return (f"Track {v['track']} may be read upside down: {wanted} "
            f"{volts(v, 'wanted_volts')}, and the recording starts and ends at "
            f"{volts(v, 'rest_volts')}. No settings are given; sweep again, starting and ending "
            f"with the {worked(v).limb} off, with a few quick {worked(v).lift_off}s.")


WORDS: dict[str, Words] = {
    "supply is another": _another,
    "bench supply clipped": lambda v, face: f"{capital(bench_supply_clipped(v, face))}.",
    "supply clipped": _clipped,
    "reference contradicted": _reference,
    "not enough": _not_enough,
    "rest end not known": _rest_end,
    "rest end contradicted": _rest_contradicted,
}
