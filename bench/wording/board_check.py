"""What the check of a board shows, in words."""

from bench.wording.face import Face, Values, Words, listed


def _no_volts(v: Values, face: Face) -> str:
    noise = ", ".join(f"{column} {lsb:.1f}" for column, lsb in v["still"])
    lost = "samples were lost" if v["lost"] else "nothing was lost"
    add = face.of("add --full-scale and --reference-volts", "state its full scale and reference")
    return (f"{f'noise in steps {noise}; ' if noise else ''}{lost}; the board does not say its "
            f"full scale and reference, so nothing can be said in volts: {add}")


def _dead_band(v: Values, face: Face) -> str:
    advice = ("; shorten the leads, add the capacitor of docs/wiring.md, or oversample"
              if v["verdict"] == "too coarse" else "")
    return (f"this board is {v['verdict']} for a dead band: the smallest it can support is "
            f"{v['volts'] * 1000:.1f} mV at the pin, {v['percent']:.2f} % of the travel of a usual "
            f"pedal (judged by input {v['track']}){advice}")


def _moved(v: Values, face: Face) -> str:
    whose, it = ("its", "it") if len(v["moved"]) == 1 else ("their", "them")
    return (f"{_inputs(v)} moved, so {whose} noise is not in this: check again with {it} at rest")


def _inputs(v: Values) -> str:
    """Return "input a", "inputs a and b", "inputs a, b and c"."""
    return f"input{'s' * (len(v['moved']) != 1)} {listed(v['moved'])}"


def _sticky(v: Values, face: Face) -> str:
    one = len(v["codes"]) == 1
    return (f"input {v['track']}: sticky code{'' if one else 's'} {_some(v)} "
            f"come{'s' if one else ''} more than twice as often as {'its' if one else 'their'} "
            "neighbours")


def _some(v: Values) -> str:
    codes = v["codes"]
    text = ", ".join(map(str, codes[:8]))
    return text if len(codes) <= 8 else f"{text} and {len(codes) - 8} more"


def _one_code(v: Values, face: Face) -> str:
    where = "at 0, where noise cannot show" if v["at_zero"] else "on one single code"
    return f"input {v['track']} stays {where}: put it at some hundred millivolts to see noise"


WORDS: dict[str, Words] = {
    "board lost samples": lambda v, face: (
        f"{v['lost']} samples were lost and {v['refused']} lines or frames refused among "
        f"{v['rows']} rows: use a shorter cable, a lower rate or frames"),
    "board missed ticks": lambda v, face: (
        f"the board itself missed {v['ticks']} ticks: ask it for a lower rate"),
    "line full": lambda v, face: (
        f"the line is {v['percent']:.0f} % full: use frames, a lower rate or a higher baud rate"),
    "clock off": lambda v, face: (
        f"the board's clock is off by {v['error_ppm']:.0f} ppm: return times and rates are off by "
        "as much"),
    "no volts to tell": _no_volts,
    "all inputs moved": lambda v, face: (
        f"{_inputs(v)} moved, so noise and the smallest dead band cannot be judged: leave the "
        "pedal alone and check again"),
    "board for a dead band": _dead_band,
    "inputs moved": _moved,
    "readings not believed": lambda v, face: (
        f"input {v['track']}: {v['percent']:.0f} % of the readings lie outside the range in which "
        "this converter can be believed"),
    "codes missing": lambda v, face: (
        f"input {v['track']}: missing code{'s' * (len(v['codes']) > 1)} {_some(v)}"),
    "codes sticky": _sticky,
    "input on one code": _one_code,
    "input off": lambda v, face: (
        f"input {v['track']} reads {v['volts']:.4f} V where {v['stated_volts']:.4f} V were stated "
        f"({v['error_lsb']:+.1f} LSB): check the reference, the divider and the wiring"),
}
