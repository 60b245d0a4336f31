"""Two recordings of one pedal in words: what moved, what got worse, whether old values hold."""

import math
from collections.abc import Sequence

from analysis.evidence.change import NOT_WORSE, STILL_HOLDS, change_claims
from analysis.model.finding import OHMS_PER_VOLT, Finding, Reason
from analysis.pedal.compare import Comparison, Move, supply_doubts
from bench.wording.claims import state_line
from bench.wording.dead_band import HEADS, start_words
from bench.wording.face import TERMINAL, Face, Values, Words, capital, mv, volts
from bench.wording.faults import fault_words
from bench.wording.limb import worked
from bench.wording.reasons import in_words
from bench.wording.sweep import sentence

# unit -> (times, the unit a person is told).
_TOLD = {"V": (1000.0, "mV"), "V/min": (1000.0, "mV/min")}
_QUANTITIES = {
    "mismatch_max": "largest mismatch", "play": "play between the tracks",
    "gain": "gain between the tracks", "offset": "offset between the tracks",
    "return_time": "mean time to return when let go", "noise": "noise at rest",
    "drift": "drift of rest", "rest_scatter": "scatter of the returns",
    "full_travel": "full travel", "rest": "rest", "span": "span", "linearity": "linearity"}
_LEVELS = frozenset({"rest", "full_travel", "span", "offset"})
_BECAME = {True: "got worse", False: "got better", None: "moved"}
# The code of a move -> its quantity and what became of it.
_MOVES = {f"{code} {became}": (name, became) for code, name in _QUANTITIES.items()
          for became in _BECAME.values()}
_ANSWERS = {
    NOT_WORSE: {"sound": "nothing got worse", "bad": "SOMETHING GOT WORSE",
                "open": "OPEN: whether anything got worse was not all seen"},
    STILL_HOLDS: {"sound": "the earlier start of travel still holds",
                  "bad": "THE EARLIER START OF TRAVEL NO LONGER HOLDS",
                  "open": "OPEN: whether the earlier start of travel holds cannot be told"},
}
_WARNED = {3: "; do not drive before it is repaired", 2: "; repair it before driving"}


def amount(value: float, unit: str, signed: bool = False) -> str:
    """Return a value as it is told to a person: small voltages in mV, four digits."""
    factor, told = _TOLD.get(unit, (1.0, unit))
    sign = "+" if signed else ""
    digits = {"mV": ".1f", "mV/min": ".2f", "%": ".2f", "s": ".3f",
              "ohm": ".1f", "ohm/min": ".2f"}.get(told, ".4f")
    text = f"{value * factor:{sign}{digits}}"
    # What rounds to nothing has no direction.
    if float(text) == 0:
        text = text.lstrip("+-")
    return f"{text} {told}".rstrip()


def before_after(move: Move) -> tuple[str, str]:
    """Return both values of a quantity; levels in V, as every other sheet has them."""
    if move.unit == "V" and move.name in _LEVELS:
        return f"{move.before:z.4f} V", f"{move.after:z.4f} V"
    if move.unit == "ohm" and move.name in _LEVELS:
        return f"{move.before:z.0f} ohm", f"{move.after:z.0f} ohm"
    return amount(move.before, move.unit), amount(move.after, move.unit)


def label(move: Move) -> str:
    """Return what a person calls the quantity, for instance "rest of track a"."""
    name = _QUANTITIES[move.name]
    return f"{name} of track {move.channel}" if move.channel else name


def new_faults(comparison: Comparison, face: Face = TERMINAL) -> tuple[str, ...]:
    """Return one sentence for each new kind of fault."""
    return tuple(f"New: {fault_words(fault.why, face)}{_WARNED.get(fault.gravity, '')}."
                 for fault in comparison.faults_new)


def other_changes(comparison: Comparison, face: Face = TERMINAL) -> tuple[str, ...]:
    """Return what else differs: old values, quantities that moved, faults gone, the relation."""
    result = [in_words(why, face) for why in comparison.stale]
    for worse in (True, None, False):
        result += [_told(m) for m in comparison.moves if m.real and m.worse is worse]
    result += [f"Gone: {fault_words(fault.why, face)}." for fault in comparison.faults_gone]
    before, after = comparison.before.pair, comparison.after.pair
    if before and after and before.relation != after.relation:
        result.append(_relation(before.relation, after.relation))
    if not any(m.real for m in comparison.moves):
        result.append("Nothing that was measured moved by more than the two recordings can tell.")
    elif any(m.real is False for m in comparison.moves):
        result.append("Nothing else moved by more than the two recordings can tell.")
    return tuple(result)


def answer(comparison: Comparison) -> str:
    """Return whether anything got worse and whether the earlier values hold, in one line."""
    return "; ".join(_ANSWERS[c.claim][c.state] for c in change_claims(comparison))


def closing(comparison: Comparison) -> str:
    """Return the sentence that closes a comparison: where the pedal stands now."""
    later = comparison.after
    return f"now: {state_line(later.state, later.gravest, later.claims)}"


def still_to_be_repaired(comparison: Comparison) -> str:
    """Return the heading over what is left of the later recording, and what it is when none is."""
    if comparison.left:
        return "Still to be repaired, by the later recording"
    if comparison.asked:
        return "Nothing that must be repaired for certain; of the later recording, know"
    later = comparison.after
    return ("No remaining faults found in the later recording." if later.sound else
            state_line(later.state, later.gravest, later.claims))


def became(move: Move) -> str:
    """Return whether a quantity really moved, and which way, as a table has it."""
    if move.real is None:
        return "cannot be told"
    if not move.real:
        return "within noise"
    return "real" if move.worse is None else "real: worse" if move.worse else "real: better"


def sentences(comparison: Comparison, face: Face = TERMINAL) -> tuple[str, ...]:
    """Return all that differs, the gravest first."""
    return (*new_faults(comparison, face), *other_changes(comparison, face))


def change_sentence(finding: Finding, face: Face = TERMINAL) -> str:
    """Return one finding of `change_findings` in words."""
    said = finding.values.get("fault", finding.values.get("why"))
    if said is not None:
        assert isinstance(said, Reason)
        return fault_words(said, face)
    if finding.code == "relation changed":
        return _relation(str(finding.values["before"]), str(finding.values["after"]))
    of = f" of track {finding.channel}" if finding.channel else ""
    name, became = _MOVES[finding.code]
    return f"{name}{of} {became}"


def _relation(before: str, after: str) -> str:
    return f"The relation of the tracks was {before}, now it is {after}."


def notes(comparison: Comparison, face: Face = TERMINAL) -> tuple[str, ...]:
    """Return what weakens the comparison."""
    doubts = [f"Of the {which} recording: {sentence(doubt, face)}"
              for which, findings in (("first", comparison.before), ("second", comparison.after))
              for doubt in supply_doubts(findings)]
    return (*doubts, *(in_words(why, face) for why in comparison.notes))


def _told(move: Move) -> str:
    levels = (f"{move.before:z.3f} V to {move.after:z.3f} V" if move.unit == "V"
              and move.name in _LEVELS else " to ".join(before_after(move)))
    return (f"{capital(label(move))} {_BECAME[move.worse]}: {levels}, "
            f"{amount(move.change, move.unit, signed=True)}, "
            f"{abs(move.change) / move.uncertainty:.0f} times its standard uncertainty of "
            f"{amount(move.uncertainty, move.unit)}.")


def _turned(v: Values, face: Face) -> str:
    return (f"Track {v['track']} was {v['before']} and is now {v['after']}: a controller with the "
            f"values of the first recording would take rest for {worked(v).a_pressed}. Do not "
            "drive "
            "before all values of the track are set anew.")


def _rests_beyond(v: Values, face: Face) -> str:
    again = "sweep again" if v["known"] else "make a longer sweep"
    return ("With the start of travel of the first recording "
            f"({volts(v, 'start_of_travel_volts')}) track {v['track']} now rests at "
            f"{volts(v, 'rest_volts')}, beyond it: "
            f"{worked(v).would}. Do not drive. Find out why its rest moved by "
            f"{mv(v, 'moved_volts')} {worked(v).towards}, repair that first, and {again}: "
            "new values only hide it.")


def _no_longer_covers(v: Values, face: Face) -> str:
    return (f"The start of travel of the first recording ({volts(v, 'start_of_travel_volts')}) no "
            f"longer covers track {v['track']}: set "
            f"{_safely(v, 1.0 if v['rises'] else -1.0)}.")


def _safely(v: Values, sign: float) -> str:
    """Return the level needed to a whole millivolt, of a rheostat ohm, never towards rest."""
    needed, per_volt = v["needed_volts"], v.get(OHMS_PER_VOLT)
    if not math.isfinite(needed):
        return "a value from a longer sweep"
    if per_volt is not None:
        return f"{sign * math.ceil(sign * per_volt * needed - 1e-6):.0f} ohm"
    return f"{sign * math.ceil(1000.0 * sign * needed - 1e-6) / 1000.0:.3f} V"


def _start(v: Values, when: str, case: Reason) -> str:
    """Return a start of travel rounded away from its rest; when: "before" or "after"."""
    return start_words(v[f"{when}_rest_volts"], case.values[f"{when}_volts"],
                       v.get(OHMS_PER_VOLT))


def _under_each_law(v: Values, face: Face) -> str:
    told = "; ".join(
        f"{HEADS[c.code]} {_start(v, 'before', c)}, now {_start(v, 'after', c)}"
        + (" (this one is stated)" if c.code == v["law"] else "")
        for c in v["cases"] if c.code != "wide" or v["law"] == "wide")
    other = ("" if v["law"] == v["before_law"] else
             f" The first recording was judged {HEADS[v['before_law']]}.")
    return f"Start of travel of track {v['track']}: {told}.{other}"


def _and(words: Sequence[str]) -> str:
    return " and ".join(words)


WORDS: dict[str, Words] = {
    "direction turned": _turned,
    "rests beyond start of travel": _rests_beyond,
    "start no longer covers": _no_longer_covers,
    "track in one only": lambda v, face: (
        f"Only the {v['recording']} recording has track {_and(v['tracks'])}; it is not compared."),
    "no later dead band": lambda v, face: (
        f"The second recording does not suffice for a dead band of track {_and(v['tracks'])}: "
        "whether earlier settings hold cannot be told."),
    "two nominal supplies": lambda v, face: (
        f"The volts are stated at {v['before_volts']:g} V before and {v['after_volts']:g} V after: "
        "levels cannot be compared."),
    "start under each law": _under_each_law,
    "two boards": lambda v, face: (
        "Two boards were used; the error of both converters is allowed for."),
    "supply not recorded each time": lambda v, face: (
        "The supply was not recorded each time; its tolerance is allowed for, so small moves "
        "cannot be told."),
}
