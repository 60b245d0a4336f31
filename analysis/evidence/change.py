"""The claims that two recordings of one pedal can carry, held side by side."""

import math

from analysis.evidence.claim import Claim, State, Subject, settle, state_of
from analysis.evidence.sweep import DEAD_BAND, SUPPLY
from analysis.model.finding import Finding, code_of
from analysis.pedal.compare import OF_THE_READING, Comparison

NOT_WORSE = "nothing got worse"
STILL_HOLDS = "the earlier settings still hold"
# Quantities that get worse; where their change cannot be told the claim stays open.
_GETS_WORSE = ("rest_scatter", "noise", "mismatch_max")


def change_claims(comparison: Comparison) -> tuple[Claim, ...]:
    """Return whether nothing got worse, and whether the earlier settings hold, with the reasons."""
    before, after = comparison.before, comparison.after
    apart = ["track not in both"] if set(before.tracks) != set(after.tracks) else []
    if before.recording.nominal_volts != after.recording.nominal_volts:
        apart.append("another nominal supply")
    # Levels of a sweep whose supply is in doubt are no measure of what moved, on either side.
    for findings in (before, after):
        fed = next(c for c in findings.claims if c.claim == SUPPLY)
        apart += [] if fed.state == "sound" else [b for b in fed.because if b not in apart]
    worse = list(comparison.newly_grave)
    worse += [f"{m.name} got worse" for m in comparison.moves if m.worse]
    bands = [] if _starts_known(comparison) else ["start of travel not known"]
    # What it cannot promise anew it cannot promise of older values.
    promise = next(c for c in after.claims if c.claim == DEAD_BAND)
    return (settle(NOT_WORSE, worse, (*apart, *_unseen(comparison))),
            settle(STILL_HOLDS, ["start of travel no longer holds"] * bool(comparison.stale),
                   (*apart, *bands, *([] if promise.state == "sound" else promise.because))))


def _unseen(comparison: Comparison) -> list[str]:
    """Return why it stays open whether something got worse."""
    before, after = comparison.before, comparison.after
    # What the later sweep leaves open it cannot show to be as good as before either.
    unseen = [code for c in after.claims if c.state == "open" for code in c.because]
    unseen += [f.kind for f in comparison.faults_new if f.kind in OF_THE_READING]
    told = {(m.name, m.channel) for m in comparison.moves if m.real is not None}
    names = sorted(set(before.tracks) & set(after.tracks))
    pair: list[None] = [None] * (before.pair is not None and after.pair is not None)
    return unseen + [f"{name} not told" for name in _GETS_WORSE
                     for channel in (pair if name == "mismatch_max" else names)
                     if (name, channel) not in told]


def _starts_known(comparison: Comparison) -> bool:
    """Return whether both sweeps state a start of travel for every track that both have."""
    both = comparison.before, comparison.after
    names = set(both[0].tracks) & set(both[1].tracks)
    return all(n in f.dead_bands and math.isfinite(f.dead_bands[n].start_of_travel_volts)
               for f in both for n in names)


def change_state(comparison: Comparison) -> State:
    """Return the state of both claims together."""
    return state_of(change_claims(comparison))


def change_findings(comparison: Comparison) -> tuple[Finding, ...]:
    """Return what differs as data: new and gone faults, moves that are real, stale values."""
    result = [Finding("new fault", f.gravity, _subject(f.channel), channel=f.channel,
                      time_s=f.time_s, travel_percent=f.travel_percent,
                      values={"kind": f.kind, "fault": f.why}, causes=(f.kind,))
              for f in comparison.faults_new]
    result += [Finding("start of travel no longer holds", 3, "track",
                       channel=str(why.values["track"]), values={"why": why}, causes=(why.code,))
               for why in comparison.stale]
    for move in comparison.moves:
        if move.real:
            became = {True: "got worse", False: "got better", None: "moved"}[move.worse]
            unit = {"V": "volts", "V/min": "volts_per_minute", "%": "percent", "s": "s",
                    "": "ratio"}.get(move.unit, move.unit)
            result.append(Finding(
                code_of(f"{move.name} {became}"), 2 if move.worse else 0, _subject(move.channel),
                channel=move.channel,
                values={f"before_{unit}": move.before, f"after_{unit}": move.after,
                        f"change_{unit}": move.change, f"uncertainty_{unit}": move.uncertainty}))
    result += [Finding("fault gone", 0, _subject(f.channel), channel=f.channel,
                       values={"kind": f.kind, "fault": f.why}, causes=(f.kind,))
               for f in comparison.faults_gone]
    pairs = comparison.before.pair, comparison.after.pair
    if pairs[0] and pairs[1] and pairs[0].relation != pairs[1].relation:
        result.append(Finding("relation changed", 0, "pair", values={
            "before": pairs[0].relation, "after": pairs[1].relation}))
    return tuple(sorted(result, key=lambda f: -f.gravity))


def _subject(channel: str | None) -> Subject:
    return "track" if channel is not None else "pedal"
