"""Demand along travel in words and as a table: where the car begins to pull, and what is lost."""

import math
from collections.abc import Sequence

from analysis.model.pedal_kind import USES
from analysis.pedal.response import Response

HEAD = "Response: demand along travel, for these values"
# Rows of the table, % of travel (common practice, no source).
ROWS = (0, 5, 10, 25, 50, 75, 90, 95, 100)


# What a pedal asks for, by its use: how that begins, and what ends.
ASKS = {"brake": ("the brake begins to act", "braking"),
        "regeneration": ("regeneration begins", "regeneration")}


def response_words(response: Response, use: str = USES[0]) -> str:
    """Return where one track's demand begins, ends and is all; use: of the pedal."""
    begins, what = ASKS.get(use, ("the car begins to pull", "power"))
    whole = (f"all of it from {response.full_percent:.1f} % on"
             if math.isfinite(response.full_percent) else "never all of it")
    ends = ("" if not math.isfinite(response.ends_percent) else
            f", {what} ends at {response.ends_percent:.1f} % when the pedal comes back")
    return (f"track {response.column}: {begins} at {response.begins_percent:.1f} % "
            f"of travel{ends}, {whole}; {response.lost_percent:.1f} % of travel change nothing")


def response_lines(responses: Sequence[Response], use: str = USES[0],
                   ohms_per_volt: float | None = None) -> list[str]:
    """Return the response of every track as lines of text, [] where none is known.

    ohms_per_volt: of a rheostat, whose levels are said in ohms.
    """
    if not responses:
        return []
    what, unit, scale, digits = (("volts", "V", 1.0, 3) if ohms_per_volt is None else
                                 ("ohms", "ohm", ohms_per_volt, 0))
    lines = ["", HEAD, "-" * len(HEAD), *(f"{response_words(r, use)}." for r in responses), "",
             "travel    " + "".join(f"{f'{r.column}: {what}, demand':<24}"
                                    for r in responses).rstrip()]
    for travel in ROWS:
        cells = [f"{scale * r.volts[r.travel_percent.searchsorted(travel)]:.{digits}f} {unit}  "
                 f"{r.demand_at(travel):5.1f} %" for r in responses]
        lines.append(f"{travel:>4} %    " + "".join(f"{c:<24}" for c in cells).rstrip())
    return lines
