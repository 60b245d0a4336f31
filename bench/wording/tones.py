"""Where a tone in the noise may come from, in words; common practice of the trade, no source."""

from collections.abc import Mapping

from bench.wording.face import Words

WORDS: Mapping[str, Words] = {
    "mains": lambda v, face: (
        f"mains {v['mains_hz']:.0f} Hz (a charger or an instrument fed from the mains)"),
    "rectified mains": lambda v, face: f"rectified mains, {v['mains_hz']:.0f} Hz (a charger)",
    "multiple of a tone": lambda v, face: (
        f"{v['times']} times the tone at {v['strongest_hz']:.1f} Hz"),
    "switching of a converter": lambda v, face: "switching of a motor controller or converter",
    "switching or ripple": lambda v, face: (
        f"switching or ripple; sampling at {v['rate_hz']:g} Hz folds k x {v['rate_hz']:g} +- "
        f"{v['tone_hz']:.1f} Hz down to here"),
}
