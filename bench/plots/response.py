"""Demand along the pedal's travel, for the values that are recommended."""

import pyqtgraph as pg

from analysis.pedal.findings import Findings
from bench.plots.ranges import drawable, known, show_x, show_y
from bench.plots.style import DASHED, DOTTED, Look, dress, line, pale, remark
from bench.plots.titles import NOT_KNOWN, Title
from bench.wording.limb import limb_of

NONE = "No response: start of travel or full travel is not known."


def response_title(findings: Findings, _column: str = "") -> Title:
    begins = ", ".join(f"{n} from {r.begins_percent:.1f} %"
                       for n, r in findings.responses.items() if known(r.begins_percent))
    first = min(known(*(r.begins_percent for r in findings.responses.values())),
                default=float("nan"))
    return Title("Demand", begins or NOT_KNOWN, "dashed: "
                                                f"{limb_of(findings.recording.pedal.use).power} "
                                                "ends on the way back",
                 least=f"from {first:.1f} %" if begins else NOT_KNOWN)


def response(plot: pg.PlotItem, findings: Findings, look: Look, *,
             before: Findings | None = None) -> None:
    """Draw each track's demand over travel, with where power begins and where it ends again."""
    dress(plot, look, response_title(findings).forms, "travel (%)", "demand (%)")
    columns = [c.column for c in findings.recording.with_role("track")]
    for each, earlier in ((before, True), (findings, False)):
        if each is None:
            continue
        for column, found in each.responses.items():
            place = columns.index(column) if column in columns else 0
            color = pale(look.track(place)) if earlier else look.track(place)
            plot.addItem(pg.PlotDataItem(
                drawable(found.travel_percent), drawable(found.demand_percent),
                connect="finite",
                pen=line(color, DOTTED if earlier else look.track_style(place), 2),
                name=f"{column} before" if earlier else column))
            if not earlier and known(found.ends_percent):
                plot.addItem(pg.InfiniteLine(found.ends_percent, 90, pen=line(color, DASHED)),
                             ignoreBounds=True)
    if not findings.responses:
        remark(plot, look, NONE, 50.0, 50.0)
    show_x(plot, 0.0, 100.0, padding=0.02)
    show_y(plot, -2.0, 102.0)
