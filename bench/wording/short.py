"""One line for each kind of finding: what, where, how often. The reasons are told elsewhere.

Keyed by code, so that a finding keeps its words whatever its long sentence says.
"""

import math
from collections.abc import Iterable

from analysis.evidence.claim import Finding
from analysis.model.finding import USE
from analysis.model.pedal_kind import BY_HAND
from bench.wording import faults as fault_words
from bench.wording import hall_faults
from bench.wording.face import mv_of, volts_of

# code -> what is said of its subject.
PHRASES = {
    **fault_words.SHORT,
    "doubt": "levels cannot be told: the supply is in doubt",
    "rest end not known": "which end is rest cannot be told: let go quickly a few times",
    "rest end assumed": "nothing shows which end is rest: taken from where it starts and ends",
    "not enough": "not enough was swept yet",
    "few returns": "too few returns to rest were seen",
    "few rest readings": "too few readings at rest",
    "short rest": "too short at rest to know the noise",
    "noise not measured": "too short at rest to know the noise",
    "no held full press": "no held full press was seen",
    "short of the stop": "not every press reached the stop",
    "cut short": "the file was cut short",
    "rate too low": "read too seldom to see every loss of contact",
    "samples lost": "readings were lost while recording",
    "no lift-off": "no quick lift-off was seen, so its return is not proven",
    "play": "follow each other with play",
    "off at rest": "rests {off_apart} ({off_percent:.1f} %) further towards pressed than the "
                   "other",
    "apart all along": "lie apart all along: meant so, or one is off?",
    "unusual relation": "are related in none of the usual ways",
    "perhaps off at rest": "may rest {off_apart} off: what do its papers say?",
    "not compared": "were never read in the same rows",
    "one track": "only one track: nothing checks it",
    "overlooked track": "moves with the pedal but was not judged",
    "supply off nominal": "is off its nominal volts",
    "supply clipped": "reads the end of its input's range",
    "reference contradicted": "the board measures another supply than its stated reference",
    "supply not recorded": "was not recorded: its tolerance is in the budget",
    "promise withdrawn": "start of travel is not proven",
    "return off the others": "one return stopped short of the others",
    "rest creeps": "rest creeps up from return to return",
    "catches at rest": "catches: it comes to rest at two places",
    "costly dead band": "a dead band that holds costs too much travel",
    "step not known": "the converter's step is not known",
    "nothing allowed for the car": "nothing is allowed for what the car adds",
    "hum": "most of its noise at rest is one tone",
    "log too noisy": "noise in the car would pass start of travel",
    "log passed the start of travel": "power would have come in the log",
    "supply read seldom": "was read seldom",
    # Good news, and numbers alone: a short page leaves them out (QUIET), a list may have them.
    "dead band stated": "start of travel {start_of_travel_level} costs "
                        "{lost_travel_percent:.1f} % of travel",
    "pair measured": "the tracks differ by at most {mismatch_max_percent:.1f} % of travel",
    "shared short unseen": "a short between the tracks would not show in their difference",
    "step estimated": "the converter's step was told from the readings",
    "third track alone": "is a third one and judged alone",
    "third track compared": "agree, the third one too",
    "odd track": "disagree: {odd} is the odd one of three",
    "no two tracks agree": "disagree: no two of three agree",
    "switch measured": "switch {switch} changes at {make_percent:.1f} % of travel",
    "broken lead unseen": "may read as a pressed pedal with its signal lead broken",
    "outside its supply": "reads outside 0 V to its supply: leads swapped, or an offset not stated",
    "rests at its output limit": "rests where the output of a Hall sensor ends",
    "full at its output limit": "ends where the output of a Hall sensor ends",
    "stated in ohms": "a rheostat, stated in ohms",
    "known resistor assumed": "was read through an assumed resistor of {known_ohms:g} ohm",
    "direction measured": "the direction switch was read on {presses} presses",
    "both directions closed": "forward and reverse were closed at once, first at {at_s:.1f} s",
    "direction changed while pressed": "the direction was changed with the pedal pressed",
    "hand throttle": "a hand throttle: it must spring back by itself",
    "switch too late": "switch {switch} changes behind the start of travel, or not at all",
    "switch silent": "switch {switch} never changed",
    "log in the values": "a log of the car is in these values",
    # Of a key-on log.
    "foot not stated": "moved as by a foot, and nothing says that one was there",
    "key line still": "the key wire never moved: key-ons were told from something else",
    "dropout in the car": "touched a rail for a moment: contact lost",
    "lead at a rail": "reads like a broken or shorted lead",
    "track at a rail all along": "reads a rail all along",
    "rest is not the sweep's": "rests {rest_moved_mv:+.0f} mV off the sweep's rest (+: towards "
                             "pressed)",
    "electrical, not a foot": "both tracks move by equal volts: electrical, not a foot",
    "another kind of pedal": "the log and the sweep say another kind of pedal",
    "supply moves a fixed sensor": "moves more than was allowed for such a sensor",
    "supply moves the readings": "moves more than was allowed for a controller that reads volts",
    "one key-on lifts": "key-on {which} lifted it by {furthest_apart}, unlike the others",
    "rows lost": "rows were lost with the key on",
    "track clipped": "reads the end of its input's range",
    "supply not logged": "the supply was not logged: a sag may hide a lift",
    "marks contradicted": "the marks lie off what the signal shows",
    "readings repeat": "one reading was repeated: nothing was read then",
    "track not logged": "a track of the sweep is not in this log",
    "away from rest": "read far from rest, away from pressed: a lead floats",
    "shift or alias": "a tone near the log's rate would look like this shift",
    "short holes": "holes of {longest_ms:.0f} ms at most: a lift within was not seen",
    "key line unclear": "the key wire stands at no two levels: it hangs in the air",
    "reference contradicted, ratio stands":
        "the board measures another supply than its stated reference",
}
BY_HAND_PHRASES = {
    "foot at rest": "may have had a hand on it while at rest",
    "no held full press": "was never held at full travel",
    "short of the stop": "not every opening reached the stop",
    "no lift-off": "no quick release was seen, so its return is not proven",
    "off at rest": "rests {off_apart} ({off_percent:.1f} %) further towards full travel than the "
                   "other",
    "broken lead unseen": "may read as an opened throttle with its signal lead broken",
    "direction measured": "the direction switch was read on {presses} openings",
    "direction changed while pressed": "the direction was changed with the throttle opened",
    "foot not stated": "moved as by a hand, and nothing says that one was there",
    "rest is not the sweep's": "rests {rest_moved_mv:+.0f} mV off the sweep's rest (+: towards "
                             "full travel)",
    "electrical, not a foot": "both tracks move by equal volts: electrical, not a hand",
    "away from rest": "read far from rest, away from full travel: a lead floats",
}
# What is told of the pair because it cannot be told of which track.
OF_EITHER = {
    "dropout": "one of the tracks loses contact; which cannot be told",
    "noise": "one of the tracks is noisy; which cannot be told",
    "dead track": "the tracks do not move together",
}
# What carries good news or only numbers: not among the findings of a short page.
QUIET = frozenset({"dead band stated", "pair measured", "step estimated", "log in the values",
                   "third track alone", "shared short unseen", "third track compared",
                   "switch measured", "stated in ohms", "direction measured", "hand throttle"})
_SUBJECTS = {"pair": "the tracks", "supply": "the supply", "pedal": "the pedal", "log": "",
             "track": "the tracks", "sender": "the sender"}
# What holds all along has no time.
UNDATED = frozenset({"same wiper"})
_ALL_ALONG = UNDATED | {"mismatch"}
# Phrases that name their own subject.
_WHOLE = frozenset({"doubt", "rest end not known", "rest end assumed", "direction measured",
                    "both directions closed", "hand throttle",
                    "direction changed while pressed", "switch measured", "switch too late",
                    "switch silent",
                    "not enough", "few returns", "few rest readings", "short rest",
                    "no held full press", "short of the stop", "cut short", "samples lost", "gap",
                    "no lift-off", "one track", "log passed the start of travel",
                    "log too noisy", "reference contradicted", "key line still",
                    "another kind of pedal",
                    "electrical, not a foot", "rows lost", "rate too low",
                    "reference contradicted, ratio stands", "short holes", "key line unclear",
                    "supply not logged", "marks contradicted", "readings repeat",
                    "track not logged", "pair measured", "shared short unseen", "step estimated",
                    "log in the values"})


def _phrase(finding: Finding) -> str:
    """Return the phrase of a finding with its values, seconds also in ms, volts also in mV.

    `_level` and `_apart` in place of `_volts` are in words, of a rheostat in ohms.
    """
    phrase = PHRASES.get(finding.code, finding.code)
    if str(finding.values.get("pedal")).startswith("hall"):
        phrase = hall_faults.SHORT.get(finding.code, phrase)
    if finding.values.get(USE) == BY_HAND and finding.code in BY_HAND_PHRASES:
        phrase = BY_HAND_PHRASES[finding.code]
    if "{" not in phrase:
        return phrase
    values = dict(finding.values)
    if isinstance(numbers := values.get("numbers"), tuple):
        values["which"] = ", ".join(map(str, numbers))
    for name, value in finding.values.items():
        for unit, thousandth in (("_volts", "_mv"), ("_s", "_ms")):
            if name.endswith(unit) and isinstance(value, float):
                stem = name.removesuffix(unit)
                values[f"{stem}{thousandth}"] = 1000 * value
                if unit == "_volts":
                    values |= {f"{stem}_level": volts_of(values, value),
                               f"{stem}_apart": mv_of(values, value)}
    return phrase.format(**values)


def short_line(finding: Finding, times: int = 1, width: int = 76) -> str:
    """Return one finding in one line of at most `width` signs."""
    phrase = _phrase(finding)
    who = f"track {finding.channel}" if finding.channel else _SUBJECTS[finding.subject]
    if finding.channel and finding.subject == "supply":
        who = "the supply"
    if finding.code in _WHOLE:
        who = f"track {finding.channel}:" if finding.channel and finding.code in (
            "noise not measured",) else ""
    text = f"{who} {phrase}".strip()
    if finding.code in ("promise withdrawn", "costly dead band", "dead band stated",
                        "step not known", "hum", "nothing allowed for the car",
                        "one key-on lifts") and finding.channel:
        text = f"track {finding.channel}: {phrase}"
    if finding.channel is None:
        text = OF_EITHER.get(finding.code, text)
    if math.isfinite(finding.travel_percent) and finding.code not in ("no return", "step"):
        text += f", at {finding.travel_percent:z.0f} % of travel"
    elif math.isfinite(finding.time_s) and finding.code not in _ALL_ALONG:
        text += f", at {finding.time_s:.1f} s"
    if times > 1:
        text += f" ({times} times)"
    return text if len(text) <= width else f"{text[:width - 3].rstrip()}..."


def shortened(findings: Iterable[Finding]) -> list[Finding]:
    """Return what a short page tells, gravest first, each code and channel once."""
    seen: dict[tuple[str, str | None], Finding] = {}
    for finding in findings:
        if finding.gravity >= 1 and finding.code not in QUIET:
            seen.setdefault((finding.code, finding.channel), finding)
    return sorted(seen.values(), key=lambda each: -each.gravity)
