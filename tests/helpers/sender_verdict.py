"""What a sender says of itself once it is calibrated against a meter."""

import numpy as np

from analysis.senders.calibration import MeterSpec, calibrate, points_from

PIN = np.linspace(0.4, 4.4, 7)


def named(sender, volts, meter, spec=None):
    """Return name -> diagnosis for what the board reads and the meter shows."""
    spec = spec or MeterSpec(0.2, 1, 0.01)
    points = points_from(volts, meter, 0.0005)
    x = sender.shown(points.volts)
    found = calibrate(points, x, sender.shown_uncertainty(points.volts, points.volts_uncertainty),
                      spec, sender.unit, sender.shown_unit, sender.forms)
    return {d.name: d for d in sender.diagnose(found)}
