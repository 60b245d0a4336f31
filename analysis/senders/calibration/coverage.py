"""Intervals for an error that is partly normal and partly uniform between limits.

A uniform part's 95 % interval is 0.95 of its limit, not 1.96 standard uncertainties: taking all
for normal would claim more than 95 %. Propagation of distributions (JCGM 101:2008) in closed
form for a normal part and two uniform parts.
"""

import numpy as np


def half_width(normal: float, first: float = 0.0, second: float = 0.0,
               level: float = 0.95, shift: float = 0.0) -> float:
    """Return h with P(|N + U1 + U2 +- shift| <= h) = level.

    normal: standard deviation of N, >= 0. first, second: limits of the uniform parts, >= 0.
    shift: >= 0, either sign as likely.
    """
    total = float(np.sqrt(normal**2 + (first**2 + second**2) / 3.0))
    if total == 0.0:
        return shift
    low, high = 0.0, normal * 12.0 + first + second + shift
    for _ in range(70):
        middle = 0.5 * (low + high)
        inside = _inside(middle + shift, normal, first, second)
        if shift:
            # F(h - d) - F(-h - d), by the symmetry of the rest.
            less = middle - shift
            inside = 0.5 * (inside + np.sign(less) * _inside(abs(less), normal, first, second))
        if inside < level:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _inside(h: float, normal: float, first: float, second: float) -> float:
    """Return P(|N + U1 + U2| <= h), by the second integral of the normal distribution.

    The integral over both uniform parts of Phi((h - u1 - u2) / s) is s^2 times a mixed second
    difference of G(z) = ((z^2 + 1) Phi(z) + z phi(z)) / 2. A part that is small beside the
    others would be lost in the difference: a small uniform part is taken for normal, a small
    normal part is widened to where it changes nothing that shows.
    """
    big, small = max(first, second), min(first, second)
    s = float(normal)
    reach = big + small
    if small < 0.02 * max(s, big):
        s = float(np.hypot(s, small / np.sqrt(3.0)))
        small = 0.0
    if big < 0.02 * s:
        s = float(np.hypot(s, big / np.sqrt(3.0)))
        return 2.0 * _phi_integrals(h / s)[0] - 1.0
    s = max(s, 1e-4 * reach)
    if small == 0.0:
        upper, lower = _phi_integrals((h + big) / s)[1], _phi_integrals((h - big) / s)[1]
        return 2.0 * s / (2.0 * big) * (upper - lower) - 1.0
    corners = ((1, big + small), (-1, big - small), (-1, small - big), (1, -big - small))
    total = sum(sign * _phi_integrals((h + shift) / s)[2] for sign, shift in corners)
    return 2.0 * s * s / (4.0 * big * small) * total - 1.0


def _phi_integrals(z: float) -> tuple[float, float, float]:
    """Return Phi, its integral and its second integral at z."""
    from scipy.special import ndtr

    area = float(ndtr(z))
    density = float(np.exp(-0.5 * z * z) / np.sqrt(2.0 * np.pi))
    return area, z * area + density, 0.5 * ((z * z + 1.0) * area + z * density)
