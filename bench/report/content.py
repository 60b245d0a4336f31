"""What stands in a report, in which order: for one recording, or for two of one pedal."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analysis.evidence.change import NOT_WORSE, change_claims
from analysis.pedal.compare import Comparison
from analysis.pedal.dead_band import DeadBand
from analysis.pedal.findings import Findings
from analysis.pedal.withhold_levels import NOT_KNOWN, promise_values
from bench.files.exports.export_document import Sheet
from bench.plots import FIGURES, svg
from bench.plots.scale import scale_of
from bench.report.document import (
    Block,
    Box,
    Column,
    Document,
    Facts,
    Figure,
    Figures,
    Heading,
    Points,
    Sign,
    Table,
    Text,
)
from bench.report.tables import (
    UNSEEN_SHORT,
    capital,
    faults,
    faults_before_after,
    listed,
    moves,
    number,
    pair_line,
    remedies,
    settings,
    tracks,
    unseen_short,
)
from bench.wording.cautions import PROVE
from bench.wording.claims import state_line
from bench.wording.compare import notes, other_changes
from bench.wording.compare import sentences as changes
from bench.wording.dead_band import HEADS, conditions, ground, safe_start
from bench.wording.face import PAPER
from bench.wording.limb import limb_of
from bench.wording.reasons import in_words
from bench.wording.response import response_words
from bench.wording.sweep import sentences

# Size of a figure's document in pixels: text in it comes out at three quarters on paper.
WIDE, HALF = (860, 250), (470, 295)
CAUTIONS = (
    "This sheet is the result of a measurement; the tool that made it only reads and commands "
    "nothing. It does not replace a test of the car.",
    f"{PROVE}.",
    "Work on or near high voltage only with the pack disconnected, proved dead, and by persons "
    "licensed for it; local codes and licensed practice come before anything on this page.",
)
# More new faults than these are named in one sentence per gravity.
MOST_NEW = 3
METHOD = (
    "Rest, way in, hold and way back were found in the readings themselves. Where the supply was "
    "recorded, a track counts as its share of it and volts are stated at nominal supply.",
    "± is one uncertainty: twice that holds the truth in 95 of 100 cases (JCGM 100:2008; "
    "JCGM 101:2008 where a limit rules). Rest and full travel are medians of the returns and of "
    "what was held at full travel.",
    "Dead band: a prediction limit that holds every later return (G. J. Hahn, 1970), the level "
    "crossings of the noise (S. O. Rice, 1945), and what is stated or assumed in the budget, added "
    "up. Full travel: a one-sided tolerance bound on those (ISO 16269-6).",
    "Mismatch is the difference of the two tracks' travels. Its limit and duration: Formula SAE "
    "rules T.4.2. Return to idle: 49 CFR 571.124, S5.3. Linearity: independent, VRCI-P-100A.",
    "Every formula, with its source and its limits, stands in the program's docs/method.md and the "
    "pages it names.",
)


@dataclass(frozen=True)
class Particulars:
    """Hold what only the user knows: who measured, which car, any remark. "" leaves a line."""

    by: str = ""
    vehicle: str = ""
    remark: str = ""


def single(findings: Findings, sheet: Sheet, particulars: Particulars) -> Document:
    """Return the report on one recording; draws its figures."""
    columns = list(findings.tracks)
    blocks: list[Block] = [
        _facts(findings, sheet, particulars), _verdict(findings), _cautions(),
        *faults(findings), *settings(findings, sheet), *_response(findings), *_deadband(findings),
    ]
    blocks += [Heading("What was measured"), tracks(findings), *pair_line(findings)]
    blocks += _placed(findings)
    blocks += remedies(findings, columns)
    blocks += [Heading("Method and sources"), Points(METHOD, "small"), *_origin([sheet])]
    blocks.append(Sign(("Settings entered by", "Proved with wheels off the ground by", "Date")))
    return Document("Throttle pedal report", findings.recording.title or sheet.file_name,
                    _foot(sheet), tuple(blocks))


def before_after(before: Findings, after: Findings, sheets: tuple[Sheet, Sheet],
                 comparison: Comparison, particulars: Particulars) -> Document:
    """Return the report on two recordings of one pedal; draws its figures."""
    blocks: list[Block] = [
        _facts(after, sheets[1], particulars, before), _verdict(after, "As it is now: "),
        _cautions(),
        Heading("What changed"),
        _changes(comparison),
        moves(comparison),
        Text(f"A change is called real beyond {comparison.factor:.1f} standard uncertainties, "
             "more after few returns, so that an unchanged pedal shows any real change in at "
             "most 5 % of comparisons. "
             + " ".join((*notes(comparison, PAPER), *unseen_short(after))),
             "small"),
        *faults_before_after(before, after), *settings(after, sheets[1], before),
        *_deadband(after, before),
    ]
    blocks += [Heading("Before and after"), *_placed(after, before)]
    blocks += remedies(after, list(after.tracks))
    blocks += [Heading("Method and sources"), Points(METHOD, "small"),
               *_origin(sheets, ("before", "after"))]
    blocks.append(Sign(("Settings entered by", "Proved with wheels off the ground by", "Date")))
    return Document("Throttle pedal, before and after",
                    after.recording.title or sheets[1].file_name,
                    _foot(sheets[1]), tuple(blocks))


def _response(findings: Findings) -> list[Block]:
    """Return the demand along travel for the values above, drawn and in words; [] without any."""
    if not findings.responses:
        return []
    use = findings.recording.pedal.use
    words = ". ".join(capital(response_words(r, use)) for r in findings.responses.values())
    return [Figures((_figure("response", findings, WIDE, f"Demand along travel. {words}."),),
                    WIDE[1] / WIDE[0])]


def _facts(findings: Findings, sheet: Sheet, particulars: Particulars,
           before: Findings | None = None) -> Facts:
    recording = findings.recording
    seconds = float(recording.time_s[-1] - recording.time_s[0])
    whole = "complete" if recording.complete else "cut short, every whole row used"
    if recording.lost_samples:
        whole += f", {recording.lost_samples} samples lost"
    presses = sum(s.kind == "press" for s in findings.segments)
    supply = ("recorded" if recording.supply is not None else "not recorded, "
              f"{100 * findings.parameters.supply_tolerance:g} % assumed")
    rows = [
        ("Vehicle", particulars.vehicle), ("Measured by", particulars.by),
        ("Recorded", _when(recording.started)), ("Board", recording.board_name or "not stated"),
        ("Sweep", f"{limb_of(recording.pedal.use).times(presses)} in {seconds:.0f} s, "
                  f"{recording.rows} rows"),
        ("Data", whole),
        ("Supply", f"{recording.nominal_volts:g} V nominal, {supply}"),
        ("File", sheet.file_name or "not stated"),
    ]
    if before is not None:
        rows.insert(2, ("Before", _when(before.recording.started)))
        rows[3] = ("After", rows[3][1])
    if particulars.remark:
        rows.append(("Remark", particulars.remark))
    return Facts(tuple(rows))


def _when(started: str) -> str:
    if not started:
        return "date not stated"
    day, _, clock = started.partition("T")
    zone = clock[8:].lstrip(".0123456789")
    shown = {"+00:00": " UTC", "Z": " UTC", "": ""}.get(zone, f" (UTC{zone})")
    return f"{day}, {clock[:5]}{shown}" if clock else day


def _verdict(findings: Findings, opening: str = "") -> Box:
    title = opening + state_line(findings.state, findings.gravest, findings.claims)
    tone = "stop" if findings.gravest >= 3 else (
        "clear" if findings.state == "sound" and findings.gravest == 0 else "mend")
    # What no sweep can show stands beside the pair, not among what is to be repaired.
    verdict = [f for f in (*findings.verdict, *findings.car_said, *findings.notes)
               if f.code != UNSEEN_SHORT]
    return Box(title, sentences(verdict, PAPER),
               tone)


def _changes(comparison: Comparison) -> Box:
    sentences = _new_in_short(comparison)
    if comparison.stale:
        return Box("The settings of before no longer hold.", sentences, "stop")
    if comparison.got_worse:
        return Box("Something got worse.", sentences, "mend")
    state = next(c.state for c in change_claims(comparison) if c.claim == NOT_WORSE)
    if state == "open":
        return Box("Whether anything got worse was not all seen.", sentences, "mend")
    return Box("Nothing got worse.", sentences, "clear")


def _new_in_short(comparison: Comparison) -> tuple[str, ...]:
    """Return the sentences; many new faults by name, for the verdict above says them in words."""
    # The sentences on new faults come first, one each.
    count = len(comparison.faults_new)
    if count <= MOST_NEW:
        return changes(comparison, PAPER)
    by_gravity: dict[int, list[str]] = {}
    for fault in comparison.faults_new:
        by_gravity.setdefault(fault.gravity, []).append(
            fault.kind + (f" of {fault.channel}" if fault.channel else ""))
    ends = {3: "do not drive before they are repaired", 2: "repair them before driving"}
    short = [f"New, in words above: {listed(names)}" + (f"; {ends[g]}." if g in ends else ".")
             for g, names in sorted(by_gravity.items(), reverse=True)]
    return (*short, *other_changes(comparison, PAPER))


def _cautions() -> Box:
    return Box("Caution", CAUTIONS, "caution")


def _deadband(findings: Findings, before: Findings | None = None) -> list[Block]:
    """Return the budget of all tracks in one table, and each track's rest readings."""
    bands = findings.dead_bands
    if not bands:
        return []
    names = list(bands)
    rows, scale = _budget(findings), scale_of(findings.recording)
    whole = len(rows)
    rows.append(("In all", *(f"{scale.small * bands[n].total_volts:.1f}" for n in names), "",
                 "Start of travel lies so far from rest, release a little before it"))
    rows.append(("Costs, % of travel", *(number(bands[n].lost_travel_percent, 2) for n in names),
                 "", f"You accept {findings.parameters.allowed_lost_travel_percent:g} %"))
    rows += _other_law(bands)
    columns = (Column("Part", 0.17),
               *(Column(f"{n}, {scale.small_unit}", 0.08, True) for n in names),
               Column("Ground", 0.11), Column("Why", 0.72 - 0.08 * len(names)))
    blocks: list[Block] = [
        Heading("What can lift the rest reading"),
        Table(f"Parts of the dead band, in {'millivolts' if scale.unit == 'V' else 'ohms'}",
              columns, tuple(rows), (whole,), tuple(range(whole, len(rows)))), *_promise(bands)]
    figures = [_figure("rest", findings, HALF if len(names) > 1 else WIDE,
                       f"Every return of track {n}, with its dead band.", n, before)
               for n in names[:2]]
    blocks.append(_two(*figures))
    return blocks


def _budget(findings: Findings) -> list[tuple[str, ...]]:
    """Return a row for each part of the dead bands: name, mV (ohms) of each, ground, why."""
    bands, small = findings.dead_bands, scale_of(findings.recording).small
    items = {item.name: item for band in bands.values() for item in band.items}
    volts = {name: {i.name: math.nan if i.basis == NOT_KNOWN else i.volts for i in band.items}
             for name, band in bands.items()}
    rows: list[tuple[str, ...]] = []
    for item, first in items.items():
        if all(volts[n].get(item, 0.0) == 0 for n in bands) and item == "your margin":
            continue
        reason = capital(in_words(first.why, PAPER)) if _same(findings, item) else ". ".join(
            f"Track {n}: {_reason(bands[n], item)}" for n in bands)
        rows.append((capital(item), *(number(small * volts[n].get(item, 0.0), 1) for n in bands),
                     ground(first.basis, first.key_ons), reason))
    return rows


def _told(bands: Mapping[str, DeadBand]) -> dict[str, DeadBand]:
    return {n: b for n, b in bands.items() if b.weak is None and b.cases}


def _other_law(bands: Mapping[str, DeadBand]) -> list[tuple[str, ...]]:
    """Return what the dead band would cost if returns followed the other law."""
    told = _told(bands)
    if not told:
        return []
    other = "even" if next(iter(told.values())).law != "even" else "stick"
    cases = {n: next(c for c in b.cases if c.name == other) for n, b in told.items()}
    return [(capital(HEADS[other]) + ", %",
             *(number(cases[n].lost_travel_percent, 2) if n in cases else "–" for n in bands),
             "", "Start of travel " + ", ".join(
                 f"{n} {safe_start(told[n], c.start_of_travel_volts)}"
                 for n, c in cases.items()))]


def _promise(bands: Mapping[str, DeadBand]) -> list[Block]:
    promise = "; ".join(
        f"track {n}: at most {100 * b.risk:.2g} % chance that any of the next {b.key_ons} "
        f"key-ons passes start of travel, and {_crossings(b.false_per_1000_h)} in 1000 h at "
        "key-on" for n, b in bands.items()
        if math.isfinite(b.risk) and b.weak is None and math.isfinite(b.false_per_1000_h))
    if not promise:
        return []
    told = _told(bands)
    if told:
        promise += f". {conditions(promise_values(next(iter(told.values()))), PAPER)[:-1]}"
    return [Text(f"What the dead band promises, with these readings and assumptions: "
                 f"{promise}.", "small")]


def _crossings(number: float) -> str:
    if number < 0.001:
        return "fewer than 0.001 noise crossings"
    return f"at most {number:.2g} noise crossings"


def _same(findings: Findings, item: str) -> bool:
    return len({_reason(band, item) for band in findings.dead_bands.values()}) == 1


def _reason(band: DeadBand, item: str) -> str:
    return next((in_words(i.why, PAPER) for i in band.items if i.name == item), "–")


def _origin(sheets: Sequence[Sheet], names: tuple[str, ...] = ("",)) -> list[Block]:
    rows = []
    for sheet, name in zip(sheets, names, strict=True):
        rows.append((f"File {name}".rstrip(), sheet.file_name or "not stated"))
        rows.append((f"SHA-256 {name}".rstrip(), sheet.sha256 or "not stated"))
    rows.append(("Software", sheets[-1].program))
    return [Facts(tuple(rows))]


def _foot(sheet: Sheet) -> str:
    parts = [sheet.file_name, f"SHA-256 {sheet.sha256[:12]}…" if sheet.sha256 else "",
             sheet.program]
    return "  ·  ".join(p for p in parts if p)


def _placed(findings: Findings, before: Findings | None = None) -> list[Block]:
    """Return the figures that their table gives a place here, the narrow ones two by two."""
    rows: list[list[tuple[str, str]]] = []
    for name, figure in FIGURES.items():
        caption = figure.on_paper if before is None else figure.before_after
        if not caption or (figure.needs_pair and findings.pair is None):
            continue
        if rows and len(rows[-1]) == 1 and not figure.wide and not FIGURES[rows[-1][0][0]].wide:
            rows[-1].append((name, caption))
        else:
            rows.append([(name, caption)])
    return [_two(*(_figure(name, findings, HALF if len(row) > 1 else WIDE, caption, before=before)
                   for name, caption in row)) for row in rows]


def _figure(name: str, findings: Findings, size: tuple[int, int], caption: str,
            column: str | None = None, before: Findings | None = None) -> Figure:
    return Figure(svg(name, findings, size, column=column, before=before), caption)


def _two(*figures: Figure) -> Figures:
    size = HALF if len(figures) > 1 else WIDE
    return Figures(figures, size[1] / size[0])
