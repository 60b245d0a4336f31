"""Faults, each on the right track, with its time and its place in the travel.

One room per kind of evidence: `dropouts` (the wiper lets go), `slips` (a track shifts against
the other), `wear` (noise and flat spots at one place of travel), `wiring` (rails, clipping,
supply, lost samples), `returns` (the pedal does not come back, or slowly), `copies` (two inputs
on one wiper).
"""

from analysis.pedal.faults.fault import Fault

__all__ = ["Fault"]
