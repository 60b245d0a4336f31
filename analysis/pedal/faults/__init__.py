"""Faults, each on the right track, with its time and its place in the travel.

One room per kind of evidence: `dropouts` (the wiper lets go), `missing` (readings that are not
there), `dead` (a track stands still while the other moves), `shaft_slip` (a track shifts against
the other), `wear` (noise at one place, flat ends), `patches` (flat spots), `wiring` (rails,
clipping, supply, lost samples), `returns` and `settling` (the pedal does not come back, or slowly),
`shorted_tracks` (two inputs on one wiper).

A kind of fault that needs to know of no other has a module here with a function
`detect(swept: Swept) -> list[Fault]`, and is called by that alone. What tells a thing only where
no other fault does is called in its turn by `sweep_faults`.
"""

from analysis.pedal.faults.fault import Fault

__all__ = ["Fault"]
