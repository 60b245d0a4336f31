"""What a tyre's size says of the way it rolls in one turn.

Overall diameter D = rim + 2 height, height = width * aspect / 100, both rounded to whole mm (ISO
4000-1; 185/65R15: 381 + 2 * 120 = 621 mm). Under load and rolling a radial tyre covers about 3.05 D
a turn, not pi D (ETRTO Standards Manual; from memory), and less as it wears.
"""

import re
from dataclasses import dataclass

from analysis.model.errors import BadParameter
from analysis.model.finding import Reason

ROLLING_SHARE = 3.05
_INCH_MM = 25.4
_SIZE = re.compile(r"\s*P?(\d{3})\s*/\s*(\d{2})\s*[- ]?\s*Z?[RBD]?F?\s*[- ]?\s*(\d{2})(?!\d).*",
                   re.IGNORECASE)


@dataclass(frozen=True)
class Tyre:
    """Hold a size: width in mm, aspect ratio in %, rim in inches (its diameter code)."""

    width_mm: int
    aspect_percent: int
    rim_inches: int

    @property
    def height_mm(self) -> int:
        """Return the section height, mm; half a millimetre counts as a whole one."""
        return (self.width_mm * self.aspect_percent + 50) // 100

    @property
    def diameter_mm(self) -> int:
        """Return the overall diameter of a new tyre, mm."""
        return round(self.rim_inches * _INCH_MM) + 2 * self.height_mm

    @property
    def circumference_metres(self) -> float:
        """Return the way of one turn under load, m."""
        return ROLLING_SHARE * self.diameter_mm * 1e-3

    def arithmetic(self) -> Reason:
        """Return how the way of one turn comes about."""
        return Reason("tyre rolls", {
            "width_mm": self.width_mm, "aspect_percent": self.aspect_percent,
            "rim_inches": self.rim_inches, "rim_mm": round(self.rim_inches * _INCH_MM),
            "height_mm": self.height_mm, "diameter_mm": self.diameter_mm,
            "rolling_share": ROLLING_SHARE, "metres": self.circumference_metres})


def tyre_of(size: str) -> Tyre:
    """Return the tyre of a size as on its side, such as 185/65R15; raise BadParameter."""
    match = _SIZE.fullmatch(size)
    if match is None:
        raise BadParameter("no size of a tyre", size=size)
    width, aspect, rim = (int(part) for part in match.groups())
    if not (100 <= width <= 400 and 20 <= aspect <= 95 and 8 <= rim <= 30):
        raise BadParameter("size of no road tyre", size=size)
    return Tyre(width, aspect, rim)
