"""What the proofs on the car ask, warn of and show, in words: by task, by code, by lead."""

from collections.abc import Mapping, Sequence

from analysis.proof.opened import WireLog, WireStep
from analysis.proof.steps import GROUND, SUPPLY
from bench.wording.face import TERMINAL, Face, capital, listed, millivolts
from bench.wording.limb import FOOT, Limb
from bench.wording.shell_quote import pasted

TITLES = {
    "sweep": "Sweep on the bench", "key-on": "Key-ons in the car", "wires": "Wires opened",
    "shake": "Leads and joints shaken", "warm": "Box warmed and cooled",
    "loads": "Supply under load", "drive": "First drive", "entered": "Values in the controller",
    "signed": "Page signed"}
# Before each proof, on top of the car's own cautions.
_CAUTIONS = {
    "wires": (
        "Prove the battery disconnect first: open it under a lightly spinning wheel and see the "
        "wheel run down.",
        "Change a wire only with the key off and the contactor open. An open pedal ground drives a "
        "rising track to full: the wheels may race, so they must be clear of the ground.",
        "Join leads through the resistor that is named, never with bare wire.",
        "{Verb} lightly: a wheel in the air races, and nothing loads the motor.",
    ),
    "shake": (
        "Key off or the contactor held open while hands are in the wiring.",
        "Pull no harder than a rough road would: the joint is to be tried, not broken.",
    ),
    "warm": (
        "Warm gently, 60 °C at most at the box; no open flame, no heat gun held close.",
        "Key off or the contactor held open.",
    ),
    "loads": (
        "The contactor closes: driven wheels clear of the ground, {off}.",
        "Hands off the wiring while consumers are switched.",
    ),
    "drive": (
        "Only after every other proof: closed ground, walking pace, nobody in front or behind.",
        "Somebody with a hand at the disconnect; you with {brake}.",
        "The laptop is read by somebody else, or afterwards. Fix it so that it cannot slide.",
    ),
}
CAUTIONED = tuple(_CAUTIONS)
_PROMPTS = {
    "as wired": "All wires as they are. Key on, wait 3 s, {verb} lightly for 3 s, let go, wait 2 "
                "s, "
                "key off; then {go}.",
    "make open": "Key OFF. Open {leads} at its plug. {go} when it is open.",
    "make short": "Key OFF. Join {leads} through {ohms}. {go} when it is joined.",
    "try it": "Key on, wait 3 s, {verb} lightly for 3 s, let go, wait 2 s, key off; then {go}.",
    "put back": "Key OFF. Put every wire back as it was; then {go}.",
    "take hold": "{let_be}. Take hold of {leads} at {place}.",
    "shake": "Shake {leads} at {place}: tap, bend, pull lightly.",
    "sideways": "{press_it} a little and push it sideways, both ways.",
    "warm": "{let_be}. Warm the box gently by 10 to 20 degrees; {go} when it is warm.",
    "cool": "Let it cool with the {limb} off; {go} when it is nearly cold again.",
    "load off": "{let_be}. {leads} OFF.",
    "load on": "Switch {leads} ON now. {runs} once you see or hear it run.",
    "key-ons": "{leads}, standing: key OFF, {verb} once, {limb} off, wait 5 s, key ON, wait 5 s; "
               "five "
               "times, then {go}. They count toward the promise.",
    "stand": "Stand still, {limb} off, key on.",
    "drive": "Drive: {verb}, let go, wait 2 s, again; at least five times. {go} when you stand.",
    "over": "That was all.",
}
_STATES = {"proved": "proved", "failed": "FAILED", "open": "open", "to do": "to do"}
_BOXES = {"simulated": "[~]", "proved": "[x]", "failed": "[!]", "open": "[?]", "to do": "[ ]"}


def cautions(task: str, of: Limb = FOOT) -> tuple[str, ...]:
    """Return what a person must see to before a proof; none where it asks for nothing."""
    return tuple(text.format(**_of_limb(of)) for text in _CAUTIONS.get(task, ()))


def _of_limb(of: Limb) -> dict[str, str]:
    return {"verb": of.verb, "Verb": capital(of.verb), "off": of.off, "limb": of.limb,
            "let_be": of.let_be, "press_it": capital(of.press_it),
            "brake": "a foot over the brake" if of.by_foot else "the brake covered"}


def lead_name(lead: str) -> str:
    """Return a lead in the trade's words."""
    return f"the {_lead(lead)}"


def _lead(lead: str) -> str:
    leg, _, track = lead.partition(" ")
    of = f" of track {track}" if track else ""
    if leg == SUPPLY:
        return f"supply lead{of}"
    return f"ground lead{of}" if leg == GROUND else f"signal lead of track {lead}"


def prompt_words(code: str, leads: tuple[str, ...] = (), place: str = "",
                 ohms: float = float("nan"), face: Face = TERMINAL, of: Limb = FOOT) -> str:
    """Return what the person is asked to do. ohms: of the resistor that joins two leads.

    of: what works the pedal.
    """
    if code.startswith("load") or code == "key-ons":
        named = leads[0].capitalize()
    else:
        named = " and ".join(lead_name(lead) for lead in leads)
    return _PROMPTS[code].format(
        **_of_limb(of), leads=named, place=place, go=face.of("Enter", "Next"),
        runs=face.of("Type on and Enter", "Press It runs"),
        ohms="the resistor named above" if ohms != ohms else f"{ohms:g} ohm")


def state_words(state: str, simulated: bool = False, step: str = "") -> str:
    """Return a state in words; simulated: nothing of it was seen on a car."""
    if step == "signed" and state == "proved":
        return "signed, simulated" if simulated else "signed"
    return f"{_STATES[state]}, simulated" if simulated else _STATES[state]


def mark_of_state(state: str, simulated: bool) -> str:
    """Return what a box is drawn by: the state, but "simulated" for what only a simulation proved.

    A tick for that would promise something of a car.
    """
    return "simulated" if simulated and state == "proved" else state


def box(state: str, simulated: bool = False) -> str:
    """Return a box for a list: [x] proved, [~] only simulated, [!] failed, [?] open, [ ] to do."""
    return _BOXES[mark_of_state(state, simulated)]


_BECAUSE = {
    "supply in doubt": "its supply input is not at the pedal's supply, so no level is sure",
    "no such step": "the log holds no step of it", "file gone": "its file is gone",
    "file changed": "its file was changed since", "unreadable": "its file cannot be judged",
    "before the sweep": "done before the newest sweep",
    "no sweep": "no usable sweep gives its limits", "newer work": "work was done since",
    "power would have been applied": "power would have been applied", "not shown": "the log does "
    "not show a pedal free of power", "drive passes": "power outlasted the letting go, or a "
    "reading passed a limit", "drive not seen": "too little was seen", "unexplained": "losses of "
                                                                                      "contact "
    "that no one lead explains"}


def because_words(step: str, because: tuple[str, ...]) -> str:
    """Return why a step is not proved, "" for no reason."""
    if not because:
        return ""
    if step == "signed" and because[0] in TITLES:
        return f"not proved on it: {listed([TITLES[s].lower() for s in because])}"
    words = [_one(step, code) for code in because]
    return (listed(words) if len(words) <= 3 else
            f"{', '.join(words[:2])} and {len(words) - 2} more")


def _one(step: str, code: str) -> str:
    if code in _BECAUSE:
        return _BECAUSE[code]
    what, _, name = code.partition(" ")
    if what == "word":
        return f"{name} by your word alone"
    if what == "unseen":
        return f"nothing alive was seen of track {name}"
    if step == "wires":
        kind, _, leads = code.partition(" ")
        return f"{change_name(kind, tuple(leads.split(' ')) if kind == 'short' else (leads,))}"
    if step == "sweep":
        return f'"{code}" does not stand'
    if step == "shake":
        return lead_name(code)
    return f"track {code}" if step == "warm" else code


def change_name(kind: str, leads: tuple[str, ...]) -> str:
    """Return what was done to the wiring, in words."""
    if kind == "as wired":
        return "as wired"
    named = " to ".join(_lead(lead) for lead in leads)
    return f"{named} open" if kind == "open" else f"{named} joined"


def shake_repair_words(loose: Sequence[tuple[str, tuple[str, ...]]]) -> str:
    """Return which joints are to be remade; loose: (lead, places where it let go, most first)."""
    made = []
    for lead, places in loose:
        where = (f"at {listed(places)}" if places else "all its joints: it was not shaken when it "
                 "let go")
        made.append(f"{_lead(lead)}, {where}")
    return f"{'; '.join(made)}: remake {'it' if len(made) == 1 else 'them'}"


def wires_repair_words(changes: Sequence[tuple[str, tuple[str, ...]]]) -> str:
    """Return what is to be done where power did not stop; changes: (kind, leads) of each."""
    named = listed([change_name(kind, leads) for kind, leads in changes])
    return (f"{named}: power must stop. Enter the issued fault and mismatch limits in the "
            "controller and have it cut power; one that cannot is not driven")


def loads_repair_words(names: Sequence[str]) -> str:
    """Return what is to be done where a consumer moved a track past its start of travel."""
    return (f"{listed(list(names))}: give the pedal's supply and ground leads of their own, away "
            "from the consumer's")


def drive_repair_words() -> str:
    """Return what is to be done where power outlasted a lift-off or a limit was passed."""
    return ("wheels off the ground again: find what kept power on, or what passed the limit; the "
            "drive's own lines tell when")


def entered_repair_words(wrong: Sequence[tuple[str, float]]) -> str:
    """Return which values are to be entered; wrong: (name, issued volts)."""
    return "enter in the controller " + listed([f"{n} {v:.3f} V" for n, v in wrong])


_CODES = {
    "works as wired": "works as wired", "power never came": "power never came",
    "stopped in time": "power stopped after {ms}", "stopped late": "power stopped only after {ms}",
    "no action": "power stayed on", "reduced": "power was only reduced, to {share}",
    "power came all the same": "power came although the fault stood already ({share} of usual)",
    "not beyond the limits": "no reading passed a limit, so this fault would not be noticed",
    "key not turned on": "the key was not turned on", "not pressed": "the pedal was not moved",
    "not held long enough": "the key was not on for 2 s with the fault",
    "let go too soon": "the pedal was let go before power had to stop",
    "no power as wired": "the log never showed power as wired, so no stop of it can be seen",
    "not as wired": "the readings were beyond limits with nothing changed",
    "another wire": "another wire was changed: {off} reads wrong",
    "nothing changed": "no reading changed", "rows lost": "rows were lost in this step",
    "too close to tell": "{ms} is too close to the limit to tell at this rate",
    "stopped by hand clock": "by your word power was off, but a hand cannot time {limit}: wire a "
    "current sensor",
    "key not seen": "no key line that moves shows that the key was on, so power may not have been "
    "asked for",
    "nobody said": "nobody said what power did: type on or off, or wire a current sensor"}


def wire_words(step: WireStep, allowed_s: float) -> str:
    """Return what a step with a changed wire showed."""
    took = step.stopped_after_s
    resolution = step.resolution_s
    known = took == took
    return _CODES[step.code].format(
        ms=f"{1000 * took:.0f} ± {1000 * resolution:.0f} ms" if known else "an unknown time",
        share=f"{100 * step.power_share:.0f} %" if step.power_share == step.power_share else "part",
        off=listed([f"track {t}" for t in step.off]) or "no track",
        limit=f"{1000 * allowed_s:.0f} ms")


def levels_words(step: WireStep) -> str:
    """Return the levels that were read."""
    return ", ".join(f"{n} {v:.2f} V" if v == v else f"{n} no reading"
                     for n, v in step.levels.items())


def expected_words(expected: Mapping[str, float]) -> str:
    """Return the levels that the network gives at rest, "" where it was not worked out."""
    return "" if not expected else "; expected at rest: " + ", ".join(
        f"{n} {round(v, 2) + 0.0:.2f} V" if v == v else f"{n} anywhere"
        for n, v in expected.items())


def warmth_words(ppm: float, file: str, span_kelvin: float, seen_kelvin: float) -> str:
    """Return that the values go by a measured drift, and over which span."""
    more = "" if seen_kelvin >= span_kelvin else f", of which {seen_kelvin:.0f} K were seen"
    return (f"temperature: values go by {ppm:g} ppm/K as measured in {file}, over "
            f"{span_kelvin:g} K{more}")


def issued_words(values: Sequence[tuple[str, float]]) -> str:
    """Return the values that are to be entered now; NaN: none is issued."""
    return "issued: " + ", ".join(
        f"{n} {v:.3f} V" if v == v else f"{n} none" for n, v in values)


def warm_ends_words(rest: tuple[float, float], noise: tuple[float, float]) -> str:
    """Return rest and noise in the coldest and the hottest quarter of what was seen."""
    return (f"cold to hot: rest {rest[0]:.4f} to {rest[1]:.4f} V, noise "
            f"{millivolts(noise[0], 2)} to {millivolts(noise[1], 2)}")


def key_on_words(turned: int | None, at_rest: int) -> str:
    """Return how many key-ons a drive's log shows; None: it has no key line."""
    if turned is None:
        return "key-ons: not seen, no input is the key line"
    return f"{turned} key-ons within this log, {at_rest} of them with the pedal at rest for 2 s"


def how_power_is_seen(log: WireLog) -> str:
    """Return by what the power was seen."""
    if log.power is None:
        return "no channel shows power: only a failure can be told by hand, never a stop in 100 ms"
    return f"power is read from channel {log.power}"


def headline(steps: Sequence[tuple[str, str, tuple[str, ...]]], simulated: int = 0) -> str:
    """Return the first line of a job: what failed, else what is left.

    steps: (step, state, because) of each, in order. simulated: how many of the proved ones were
    done on a simulated board, and so prove nothing of a car.
    """
    shown = f", {simulated} of them only on a simulated board" if simulated else ""
    # When it was done stands in its own line.
    said = [(s, state, tuple(w for w in why if w != "before the sweep")) for s, state, why in steps]
    failed = [f"{TITLES[s].lower()} ({because_words(s, why)})" if why else TITLES[s].lower()
              for s, state, why in said if state == "failed"]
    if failed:
        return f"Do not drive, failed: {'; '.join(failed)}."
    left = [TITLES[s] for s, state, _ in steps if state != "proved"]
    if not left:
        return f"All proofs are there{shown}, and the page is signed."
    return f"{len(steps) - len(left)} of {len(steps)} proved{shown}; next: {left[0].lower()}."


def signed_words(when: str, name: str, state: str, by: str, next_check: str,
                 proved: tuple[int, int]) -> str:
    """Return one signed page in a line; state: of its file now; proved: how many, of how many."""
    now = {"whole": "", "changed": "; CHANGED since it was signed", "gone": "; gone"}[state]
    # A page that speaks of failed or unseen steps was printed, and signs nothing.
    whole = proved[0] == proved[1] > 0
    what = "signed" if whole else "printed, not proved,"
    until = f", next check by {next_check}" if next_check and whole else ""
    return f"{what} {when} by {by}: {name}, {proved[0]} of {proved[1]} proved{until}{now}"


def damaged_words(lines: int) -> str:
    """Return that lines of the record do not count."""
    return (f"{lines} line{'' if lines == 1 else 's'} of the job's record "
            f"{'is' if lines == 1 else 'are'} damaged and {'does' if lines == 1 else 'do'} not "
            "count")


def unlisted_words(names: tuple[str, ...], face: Face = TERMINAL) -> str:
    """Return that recordings lie in the folder and do not count; names: of one at least."""
    few = listed(names) if len(names) <= 3 else f"{', '.join(names[:2])} and {len(names) - 2} more"
    add = f"take it in with --add {pasted(names[0])}" if len(names) == 1 else (
        "take in what belongs to it with --add FILE")
    return face.of(
        f"{few} in this folder {'is' if len(names) == 1 else 'are'} not in the job's record; {add}",
        f"{few} in this folder {'is' if len(names) == 1 else 'are'} not in the job's record")


NOTHING_TO_ENTER = "nothing to enter: the sweep or the key-on log says not to drive"


def load_words(name: str, state: str, left_volts: float) -> str:
    """Return what one consumer did to the rest."""
    if state == "passes":
        return f"{name}: a track passes start of travel with it on"
    if state == "not seen":
        return f"{name}: not seen (too short, rows lost, or no start of travel)"
    if state == "not shown":
        return (f"{name}: open: no reading moved and nobody said that it ran, so nothing shows "
                "that it was on; switch it again and say so while it runs, or log its current")
    if state == "by word":
        return (f"{name}: by your word alone, not measured: no reading shows that it was on; start "
                f"of travel stays {millivolts(left_volts)} away")
    return f"{name}: start of travel stays {millivolts(left_volts)} away"
