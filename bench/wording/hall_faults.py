"""Faults of a Hall sensor in words: no wiper touches anything, so nothing of it is worn."""

from bench.wording.face import Face, Values, Words, mv, volts

# A line for a short page, behind the name of its track: code -> words.
SHORT = {
    "dropout": "loses its signal",
    "flat spot": "stands still for a part of the travel: magnet or output limit",
    "noise": "is noisy: supply, plug or magnet",
    "same wiper": "move as one: perhaps one sensor read twice",
}


def _noisy(v: Values, face: Face) -> str:
    return (
        f"track {v['track']} is noisy between {v['lowest_percent']:.0f} and "
        f"{v['highest_percent']:.0f} % of travel: {v['noise_percent']:.1f} % of travel there, "
        f"{v['usual_percent']:.2f} % elsewhere: look at its supply, its plug and whether its "
        "magnet is loose"
    )


def _flat(v: Values, face: Face) -> str:
    when = f" when {v['way']}" if v["way"] else ""
    return (
        f"track {v['track']} stands still from {v['lowest_percent']:.0f} to "
        f"{v['highest_percent']:.0f} % of travel while track {v['other']} moves{when}: its "
        "output has come to its limit, or its magnet no longer reaches it"
    )


def _stands_still(v: Values, face: Face) -> str:
    return (
        f"track {v['track']} stands still at {volts(v, 'volts')} from {v['time_s']:.1f} to "
        f"{v['end_s']:.1f} s while track {v['beside']} moves by {100 * v['moved']:.0f} % of "
        "its travel: its sensor, its magnet or its lead does not follow; find out which before "
        "driving"
    )


WORDS: dict[str, Words] = {
    "noisy": _noisy,
    "unsteady once": lambda v, face: (
        f"track {v['track']} is unsteady for {v['seconds']:.1f} s at {v['time_s']:.1f} s, near "
        f"{v['travel_percent']:z.0f} % of travel, by {v['noise_percent']:.1f} % of travel rms, and "
        "quiet there otherwise: look at its supply, its plug and whether its magnet is loose"
    ),
    "flat spot": _flat,
    "stands still": _stands_still,
    "not together": lambda v, face: (
        f"the tracks do not move together from {v['time_s']:.1f} s on: each stands still while the "
        "other moves, and which of them follows the pedal cannot be told here; check both sensors, "
        "their magnets and their leads before driving"
    ),
    "flat at the end": lambda v, face: (
        f"track {v['track']} stands still from {v['lowest_percent']:.0f} to "
        f"{v['highest_percent']:.0f} % of travel, at the end of its range: the output stage of the "
        "sensor has come to its limit, or the input is clipped"
    ),
    "bend alike": lambda v, face: (
        f"tracks {v['first']} and {v['second']} bend alike over the whole travel, which two "
        "sensors hardly do, but their noise is not common: they may be two inputs on one sensor, "
        "and that is weak evidence. Key off, take one lead off the board and see whether the "
        "other input still follows"
    ),
    "copies": lambda v, face: (
        f"tracks {v['first']} and {v['second']} are copies of each other: but for a fixed gain and "
        "offset they differ over the whole travel by no more than the converter's own noise and "
        f"rounding ({mv(v, 'rms_volts', 1)} rms), which two sensors never do. The two "
        "inputs read the same sensor, so nothing checks the pedal; key off, take one lead off the "
        "board and see whether the other input still follows"
    ),
    "alike within a step": lambda v, face: (
        f"tracks {v['first']} and {v['second']} differ by no more than this converter tells apart "
        f"({mv(v, 'step_volts', 1)} a step): they may be two inputs on one sensor, and "
        "that is weak evidence. A finer converter would tell; so does taking one lead off the "
        "board, key off, to see whether the other input still follows"
    ),
}
