"""The verdict on a key-on log in words: whether power came, what was not seen, how close it was."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.key_on.opening import FOOT_NOT_STATED, WITHHOLDS, opening, passing_unseen
from analysis.key_on.results import Application, KeyOnFindings, Press, TrackVerdict, Unread
from analysis.model.finding import Finding
from bench.wording.face import TERMINAL, Face, capital
from bench.wording.key_on_found import log_sentence, seconds_text, unread_text
from bench.wording.limb import Limb, limb_of


@dataclass(frozen=True)
class Judged:
    """Hold all that the verdict's words are made of.

    applied: None: open. unjudged: tracks without a start of travel. unchecked_s: key-on time
    under a foot. forbidden: the pedal must be mended first. opened: what leaves the verdict open,
    gravest first. brief: what was not seen and is too short to open it. face: who is told. limb:
    what works the pedal.
    """

    applied: bool | None
    tracks: Mapping[str, TrackVerdict]
    unjudged: tuple[str, ...]
    events: tuple[Application, ...]
    presses: tuple[Press, ...]
    unchecked_s: float
    unread: Mapping[str, Unread]
    forbidden: bool
    opened: tuple[Finding, ...]
    brief: tuple[Finding, ...]
    face: Face
    limb: Limb


def verdict_text(findings: KeyOnFindings, face: Face = TERMINAL) -> str:
    """Return the verdict on a log as text."""
    return _verdict(_judged(findings, face))[0]


def told_by_verdict(findings: KeyOnFindings) -> tuple[Finding, ...]:
    """Return the findings that the text of the verdict tells already."""
    return _verdict(_judged(findings, TERMINAL))[1]


def _judged(findings: KeyOnFindings, face: Face) -> Judged:
    verdict = findings.verdict
    return Judged(
        verdict.applied, verdict.tracks,
        tuple(c for c in findings.tracks if c not in verdict.tracks), verdict.applications,
        findings.presses, verdict.unchecked_s, findings.unread, bool(findings.forbidding),
        opening(findings.found), passing_unseen(findings.found), face,
        limb_of(findings.recording.pedal.use))


def _verdict(judged: Judged) -> tuple[str, tuple[Finding, ...]]:
    """Return the verdict as text, and the findings that it tells."""
    foot = _foot(judged)
    if not judged.tracks:
        return ("No verdict: there is no start of travel to judge by; give the pedal's sweep, or "
                f"your controller's value.{foot}", ())
    missing = (f"no verdict for track {', '.join(judged.unjudged)}: give its start of travel"
               if judged.unjudged else "")
    if judged.applied:
        silent = f" Besides, {unread_text(judged.unread)}." if judged.unread else ""
        return (_power(judged) + silent + (f" {capital(missing)}." if missing else "") + foot, ())
    read = [t for t in judged.tracks.values() if np.isfinite(t.margin_volts)]
    if not read:
        return f"No verdict.{f' {capital(missing)}.' if missing else ''}{foot}", ()
    close = _closest(read)
    if judged.applied is None:
        return _open(judged, read, close, missing, foot)
    # What is too short to open it is told where it matters: beside the claim.
    brief = "".join(f" {_said(f, judged)}." for f in judged.brief)
    if judged.forbidden:
        return (f"No reading of this log asked for {judged.limb.power}, and that is no leave to "
                "drive: the "
                f"pedal must be mended first. Closest: {close}.{brief}{foot}", judged.brief)
    return (f"{capital(judged.limb.power)} would not have been applied in this log. Closest: "
            f"{close}.{brief}{foot}",
            judged.brief)


def _open(judged: Judged, read: list[TrackVerdict], close: str, missing: str,
          foot: str) -> tuple[str, tuple[Finding, ...]]:
    """Return the words of a verdict that stays open, and the finding that they tell."""
    unread, opened = judged.unread, judged.opened
    if opened:
        also = f"; {unread_text(unread)}" if unread else ""
        rest = f" {capital(missing)}." if missing else ""
        told = _said(opened[0], judged)
        # A foot that was left out is named once.
        left_out = "" if any(f.code == FOOT_NOT_STATED for f in opened) else foot
        # What makes the whole log worth little leads.
        lead = (f"{told}. No verdict{f': {unread_text(unread)}' if unread else ''}"
                if opened[0].code in WITHHOLDS else f"No verdict: {told}{also}")
        return (f"{lead}. No reading that came asked for {judged.limb.power}. "
                f"Closest: {close}.{rest}{left_out}", opened[:1])
    if unread and not missing and len(read) == len(judged.tracks):
        return (f"No verdict: {unread_text(unread)}. No reading that came asked for "
                f"{judged.limb.power}. "
                f"Closest: {close}.{foot}", ())
    alone = (f"Track {read[0].column} alone was judged" if len(read) == 1 else
             f"Tracks {', '.join(t.column for t in read)} alone were judged")
    return (f"{alone}; {missing or 'no verdict for the whole pedal'}. Closest: {close}.{foot}",
            ())


def _foot(judged: Judged) -> str:
    """Return what was left out as a foot, and which tracks gave no reading at all."""
    foot, presses = "", judged.presses
    if presses:
        stated = all(p.stated for p in presses)
        times = ", ".join(f"{p.start_s:.1f} s" for p in presses[:5])
        more = " and later" if len(presses) > 5 else ""
        moves = "1 movement" if len(presses) == 1 else f"{len(presses)} movements"
        foot = (f" Left out: {moves} of both tracks like a {judged.limb.limb}'s "
                f"({judged.unchecked_s:.1f} s of key-on; at {times}{more}), "
                + ("stated to be one." if stated else
                   f"not all of them stated to be one; if no {judged.limb.limb} was there, each "
                   f"was {judged.limb.power} without a {judged.limb.limb}."))
    blind = [t.column for t in judged.tracks.values() if np.isnan(t.margin_volts)]
    if blind:
        foot = (f" Track {', '.join(blind)} gave no reading while the key was on and the "
                f"{judged.limb.limb} off: nothing is known of it.{foot}")
    return foot


def _closest(read: list[TrackVerdict]) -> str:
    nearest = min(read, key=lambda t: t.margin_volts)
    percent = ("" if np.isnan(nearest.margin_percent)
               else f" ({nearest.margin_percent:.1f} % of travel)")
    return (f"track {nearest.column} at {nearest.closest_at_s:.3f} s, "
            f"{nearest.margin_volts * 1e3:.1f} mV{percent} short of start of travel")


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _power(judged: Judged) -> str:
    tracks, found = judged.tracks, judged.events
    worst = [t for t in tracks.values() if t.applications]
    parts = [f"track {t.column} {_times(t.applications)}, {seconds_text(t.applied_s)} in all, up "
             f"to {-t.margin_volts * 1e3:.1f} mV beyond" for t in worst]
    both = any(e.both for e in found) or any(np.isnan(t.margin_volts) for t in tracks.values())
    alone = ("" if both or judged.unread or len(tracks) < 2 else
             " The other track stayed short of its own start of travel each time.")
    return (f"{judged.limb.power.upper()} WOULD HAVE BEEN APPLIED with the {judged.limb.off}: "
            f"{'; '.join(parts)}; "
            f"first at {found[0].start_s:.3f} s.{alone}")


def _said(found: Finding, judged: Judged) -> str:
    return log_sentence(found, judged.face).rstrip(".")
