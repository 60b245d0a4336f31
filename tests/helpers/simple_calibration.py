"""A calibration from volts and what a meter showed, with as little said as can be."""

from analysis.senders.calibration import MeterSpec, calibrate, points_from

METER = MeterSpec(0.5, 2, 0.01)


def simple(volts, meter, uncertainty=0.001, spec=METER, gain=5.0, **more):
    points = points_from(volts, meter, uncertainty)
    return calibrate(points, gain * points.volts, gain * points.volts_uncertainty, spec, **more)
