"""The verdict's sentences with what each rests on, and what stands against a tick or a promise."""

from dataclasses import dataclass

import numpy as np

from analysis.evidence.sweep import PAIR, UNSEEN
from analysis.key_on import KeyOnFindings
from analysis.model.finding import Finding
from analysis.pedal.faults import Fault
from analysis.pedal.findings import Findings
from analysis.pedal.rest_direction import OF_THE_REST
from analysis.pedal.returns import WITHDRAWALS
from analysis.pedal.verdict import off_at_rest, play_explains
from analysis.pedal.withhold_levels import NOT_KNOWN
from bench.services.findings import with_uncertainty
from bench.wording.claims import claim_lines, state_line
from bench.wording.dead_band import ground
from bench.wording.face import WINDOW, capital
from bench.wording.key_on_allowance import BRIEF, brief_reason
from bench.wording.key_on_found import log_sentence
from bench.wording.key_on_sentences import brake_sentences, do_not_enter, do_not_keep
from bench.wording.key_on_verdict import verdict_text
from bench.wording.limb import limb_of
from bench.wording.pages import findings as words
from bench.wording.reasons import in_words
from bench.wording.short import short_line
from bench.wording.sweep import coded_sentences, sentence

LONE = "one track"
# Signs of a finding's one line; a list that is narrower breaks it, and cuts nothing.
LINE = 120
WORDS = {3: "Do not drive", 2: "Repair first", 1: "Know"}
# Over what is as grave only because it was not seen: nothing is known to need repair.
NOT_SEEN = "Not seen yet"
# Grave, and answered by turning, trimming or the values: the page Decide does that.
ANSWERED = frozenset({"off at rest", "costly dead band"})
# Nothing wrong, and no good news either: what no such sweep can show has no tick over it.
NO_SWEEP_SHOWS = frozenset({"shared short unseen"})
# Expected noise crossings in 1000 h at key-on above which a start of travel is no dead band: about
# one an hour (common practice, no source).
MOST_CROSSINGS = 1000.0


@dataclass(frozen=True)
class Said:
    """Hold one finding in one line and in full, and the fault behind it.

    gravity: 0: nothing wrong. line: for a list; "" takes the sentence. sentence, evidence: the
    reasons, unfolded on demand. unseen: as grave as it is only for want of readings.
    """

    gravity: int
    sentence: str
    evidence: str
    fault: Fault | None = None
    line: str = ""
    unseen: bool = False

    @property
    def word(self) -> str:
        """Return the word that stands over it, "" where nothing is wrong."""
        return NOT_SEEN if self.unseen and self.gravity else WORDS.get(self.gravity, "")

    @property
    def head(self) -> str:
        """Return the one line of a list."""
        return self.line or self.sentence

    @property
    def reasons(self) -> str:
        """Return what stands below that line when it is unfolded."""
        return "\n".join(t for t in (self.sentence if self.line else "", self.evidence) if t)


def said(findings: Findings) -> list[Said]:
    """Return every sentence of verdict and notes with its evidence, the gravest first."""
    state = state_line(findings.state, findings.gravest, findings.claims)
    lines = claim_lines(findings.claims, limb_of(findings.recording.pedal.use))
    result = [Said(findings.gravest if findings.state == "bad" else int(findings.state == "open"),
                   state, "\n".join(lines))]
    off = off_at_rest(findings.tracks, findings.pair)
    verdict, notes = findings.verdict, (*findings.notes, *findings.car_said)
    for each in verdict:
        alike = _faults_of(each, findings)
        if alike:
            evidence = _of_faults(alike)
        elif off is not None and each.code == "off at rest":
            evidence = _of_rests(findings, off[:2])
        elif each.channel in findings.dead_bands:
            evidence = _of_band(findings, str(each.channel))
        elif findings.pair is not None and each.code in PAIR:
            evidence = _of_pair(findings)
        else:
            evidence = ""
        told = max(each.gravity, 1) if each.code in NO_SWEEP_SHOWS else each.gravity
        result.append(Said(told, sentence(each, WINDOW), evidence,
                           alike[0] if alike else None, line_of(each, len(alike) or 1),
                           each.code in UNSEEN))
    # A note is never good news, whether or not the values suffer from it; the state leads all.
    ranks: list[float] = [4.0, *(each.gravity for each in verdict)]
    for each in notes:
        why = words.OF_THE_LOG if each in findings.car_said else words.WEAK
        result.append(Said(max(each.gravity, 1), sentence(each, WINDOW), why,
                           line=line_of(each), unseen=each.code in UNSEEN))
        # A lone track leads what is to be known: every other sentence rests on it alone.
        ranks.append(1.5 if each.code == LONE else each.gravity)
    order = sorted(range(len(result)), key=lambda k: (k > 0, -result[k].gravity, -ranks[k]))
    return [result[k] for k in order]


def line_of(found: Finding, times: int = 1) -> str:
    """Return a finding in one line, as the command line's first screen has it."""
    return capital(short_line(found, times, width=LINE))


@dataclass(frozen=True)
class Unproven:
    """Hold what is not proven: the code of what leaves it open, and its sentence."""

    code: str
    text: str


def unproven(findings: Findings) -> tuple[Unproven, ...]:
    """Return what these findings do not prove, the one to lead with first.

    What is broken but understood (a fault) is not among them, unless it leaves a dead band
    without its promise; nor what a log in the car has added, which is `car_trouble`'s to judge.
    """
    open_ = [s for s in findings.graded if s.gravity >= 1 and s not in findings.car_said
             and not _faults_of(s, findings)]
    open_.sort(key=lambda s: (-s.gravity, s.code != LONE))
    result = [Unproven(code, text) for code, text in coded_sentences(open_, WINDOW)]
    told = {s.channel for s in open_ if s.code in WITHDRAWALS}
    whole = any(s.code in ("doubt", "rest end not known") for s in open_)
    for name, band in findings.dead_bands.items():
        if band.weak is not None and name not in told and not whole:
            result.append(Unproven("promise withdrawn",
                                   words.not_proven(name, in_words(band.weak, WINDOW))))
        elif band.weak is None and crossed(band.false_per_1000_h):
            result.append(Unproven("noise passes it", words.noise_passes(name)))
    return tuple(result)


def crossed(false_per_1000_h: float) -> bool:
    """Say whether noise passes a start of travel too often to call it one; unknown is too often."""
    return not false_per_1000_h <= MOST_CROSSINGS


def _faults_of(found: Finding, findings: Findings) -> list[Fault]:
    """Return the faults that a sentence tells of: all of its kind and channel."""
    return [f for f in findings.faults
            if (f.kind, f.channel) == (found.code, found.channel)]


def headline(findings: Findings) -> str:
    """Return the sentence to lead with: what must be repaired, then what is not proven."""
    not_proven = unproven(findings)
    if findings.gravest < 2 and not_proven:
        return not_proven[0].text
    if findings.state == "bad" and findings.verdict:
        return sentence(findings.verdict[0], WINDOW)
    return state_line(findings.state, findings.gravest, findings.claims)


@dataclass(frozen=True)
class Trouble:
    """Hold what a log in the car holds against a sweep's values: on the rail, in short, in full."""

    word: str
    short: str
    text: str


def car_trouble(findings: Findings | None, log: KeyOnFindings | None) -> tuple[Trouble, ...]:
    """Return what a log of this very pedal in its car holds against its values, gravest first.

    Empty without a log, and for a log that was judged by another sweep.
    """
    if findings is None or log is None or log.swept is not findings.recording:
        return ()
    result = []
    if log.verdict.applied:
        result += [Trouble(words.POWER, words.PASSED, verdict_text(log, WINDOW)),
                   Trouble(words.POWER, words.PASSED, do_not_enter(log))]
    elif findings.car and log.passed:
        result.append(Trouble(words.POWER, words.PASSED, words.passed_issued(log.passed)))
    elif log.noisy and not findings.car:
        result.append(Trouble(words.NOISE, words.NOISE_MORE, do_not_keep(log)))
    of = limb_of(log.recording.pedal.use)
    result += [Trouble(brief_reason(f.code, of), words.log_found(brief_reason(f.code, of)),
                       log_sentence(f, WINDOW))
               for f in log.found if f.code in BRIEF and f.gravity > 1]
    if log.verdict.applied is None and log.unread:
        result.append(Trouble(words.NOT_ALL_THE_TIME, words.READINGS_MISSING,
                              verdict_text(log, WINDOW)))
    return (*result, *(Trouble(words.BRAKE, words.BRAKE_MORE, text)
                       for text in brake_sentences(log)))


def forbidding(findings: Findings | None, log: KeyOnFindings | None) -> str:
    """Return why nobody may drive with the values on show, in a sentence; "" while one may.

    What the sweep forbids comes first, then a log of this pedal in which power would have come.
    """
    if findings is None:
        return ""
    if findings.gravest >= max(WORDS):
        return next(sentence(f, WINDOW) for f in findings.graded if f.gravity >= max(WORDS))
    car = car_trouble(findings, log)
    return car[0].text if car and log is not None and (log.verdict.applied or log.passed) else ""


def doubt_of(findings: Findings, log: KeyOnFindings | None, column: str) -> str:
    """Return why a track's start of travel stands without its promise, "" when it has one."""
    band = findings.dead_bands.get(column)
    if band is None:
        return ""
    car = car_trouble(findings, log)
    if band.weak is not None:
        return in_words(band.weak, WINDOW)
    if car:
        return words.see_in_car(car[0].short)
    return words.OWN_NOISE if crossed(band.false_per_1000_h) else ""


def car_judged_others(findings: Findings, log: KeyOnFindings) -> bool:
    """Say whether the log was judged by other starts of travel than those on show."""
    now = {s.channel: s.value for s in findings.settings if s.name == "start_of_travel"}
    return any(now.get(name) != judged.start_of_travel_volts
               for name, judged in log.verdict.tracks.items())


def must_mend(findings: Findings) -> str:
    """Return the gravest sentence that no value on the sheet answers; "" when there is none.

    A track that is off at rest, or a costly dead band, is repaired by turning or by the values:
    the page Decide does that. Anything else calls for a screwdriver and another sweep, play that
    puts a track off at rest among it.
    """
    faults = any(f.gravity >= 2 for f in findings.faults) or any(
        f.gravity >= 2 and f.code not in ANSWERED for f in findings.verdict)
    weak = any(band.weak is not None for band in findings.dead_bands.values())
    loose = play_explains(findings.tracks, findings.pair)
    if findings.doubt is None and not faults and not weak and not loose:
        return ""
    return next(sentence(f, WINDOW) for f in findings.graded if f.gravity == findings.gravest)


def what_first(findings: Findings) -> str:
    """Return what `must_mend` calls for, in a sentence."""
    if findings.doubt is not None and findings.doubt.code in OF_THE_REST:
        return words.SWEEP_AGAIN
    if (findings.doubt is not None or any(f.gravity >= 2 for f in findings.faults)
            or play_explains(findings.tracks, findings.pair)):
        return words.REPAIR_FIRST
    return words.NO_PROMISE


def grave_count(findings: Findings) -> int:
    """Return how many sentences say that something must be repaired before driving."""
    return sum(s.gravity >= 2 and s.code not in UNSEEN for s in findings.graded)


def _of_faults(faults: list[Fault]) -> str:
    places = ", ".join(place_of(f) for f in faults[:4])
    more = f" and {len(faults) - 4} more" if len(faults) > 4 else ""
    return f"Seen at {places}{more}."


def place_of(fault: Fault) -> str:
    travel = f" ({fault.travel_percent:z.0f} % of travel)" if np.isfinite(
        fault.travel_percent) else ""
    return f"{fault.time_s:.2f} s{travel}" if np.isfinite(fault.time_s) else f"any time{travel}"


def _of_band(findings: Findings, column: str) -> str:
    band, track = findings.dead_bands[column], findings.tracks[column]
    items = ", ".join(f"{i.name} not known" if i.basis == NOT_KNOWN or not np.isfinite(i.volts)
                      else f"{i.name} {1000 * i.volts:.1f} mV ({ground(i.basis, i.key_ons)})"
                      for i in band.items)
    return (f"{track.rest_levels.size} returns, rest {with_uncertainty(track.rest, 4, 'V')}. "
            f"Budget: {items}.")


def _of_rests(findings: Findings, columns: tuple[str, ...]) -> str:
    rests = (f"{c} {with_uncertainty(findings.tracks[c].rest, 4, 'V')} over "
             f"{findings.tracks[c].rest_levels.size} returns" for c in columns)
    return f"Rest: {', '.join(rests)}."


def _of_pair(findings: Findings) -> str:
    pair = findings.pair
    assert pair is not None
    return (f"Gain {with_uncertainty(pair.gain, 4)}, offset "
            f"{with_uncertainty(pair.offset_volts, 4, 'V')}, worst mismatch "
            f"{with_uncertainty(pair.mismatch_max_percent, 2, '%')}, play between the way in and "
            f"the way back {with_uncertainty(pair.play_percent, 2, '%')}.")

def few(number: float) -> str:
    """Return a small expected number in words a person can use."""
    if not np.isfinite(number):
        return "not known"
    return "fewer than one in a million" if number < 1e-6 else f"at most {number:.2g}"
