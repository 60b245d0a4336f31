"""The preferred values of resistors, IEC 60063: E12, E24 and E96."""

import math

from analysis.model.errors import BadParameter

# E3 to E24 are listed by the standard; they do not follow the rounded geometric series exactly.
E24 = (1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
       3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1)
E12 = E24[::2]
# E48 and above are the geometric series rounded to three figures.
E96 = tuple(round(10.0 ** (k / 96.0), 2) for k in range(96))

SERIES = {"E12": E12, "E24": E24, "E96": E96}


def nearest_value(ohms: float, series: str = "E24") -> float:
    """Return the value of that series nearest in ratio to `ohms`, above 0.

    Raises BadParameter on an unknown series or a resistance that is not above 0.
    """
    if series not in SERIES:
        raise BadParameter("unknown series", series=series, known=tuple(SERIES))
    if not (math.isfinite(ohms) and ohms > 0):
        raise BadParameter("resistance not above 0", ohms=ohms)
    decade = 10.0 ** math.floor(math.log10(ohms))
    candidates = [value * scale for scale in (decade / 10.0, decade, decade * 10.0)
                  for value in SERIES[series]]
    best = min(candidates, key=lambda value: abs(math.log(value / ohms)))
    # Four figures are enough for every series and drop what binary floating point adds.
    return float(f"{best:.4g}")
