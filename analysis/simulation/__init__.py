"""Pedals with known truth: what they are, how a foot moves them, what a board reads.

Everything is made here from a seed; the analysis never imports this package.
"""

from analysis.simulation.converter import Converter, electrical_noise
from analysis.simulation.motion import Course, Motion, Part, carry_out
from analysis.simulation.pedal import (
    PEDALS,
    Dropout,
    FlatSpot,
    Pedal,
    Slip,
    StuckReturn,
    Supply,
    Track,
    WornSpot,
    pedal_named,
)
from analysis.simulation.sweep import SimulatedSweep, simulate_sweep
from analysis.simulation.truth import (
    TrackTruth,
    TrueDropout,
    TrueFault,
    TruePart,
    Truth,
    true_mismatch,
)
from analysis.simulation.wiper import supply_volts, track_ratio, wiper_noise

__all__ = [
    "PEDALS", "Converter", "Course", "Dropout", "FlatSpot", "Motion", "Part", "Pedal",
    "SimulatedSweep", "Slip", "StuckReturn", "Supply", "Track", "TrackTruth", "TrueDropout",
    "TrueFault", "TruePart", "Truth", "WornSpot", "carry_out", "electrical_noise", "pedal_named",
    "simulate_sweep", "supply_volts", "track_ratio", "true_mismatch", "wiper_noise",
]
