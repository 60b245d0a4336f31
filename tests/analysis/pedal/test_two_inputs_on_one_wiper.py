"""Two inputs clipped to one wiper are told so; two potentiometers are never told so.

What two inputs on one wiper read is made here from one voltage through two converters of ours;
that two potentiometers bend differently, by 0.05 % of travel and more, is common practice (no
source): the independent linearity of good elements is stated as 0.1 to 2 %.
"""

from dataclasses import replace

import numpy as np
import pytest
from random_pedals import random_pedal
from said import as_texts, fault_text
from second_pedal import random_sweep

from analysis.model.recording import Recording
from analysis.pedal.findings import analyse
from analysis.simulation import Converter, simulate_sweep

FINE = Converter(20, 6.144, 1.0, 1.0, 0.0)
# (converter of both inputs, what the second input's divider does to its volts)
INPUTS = [(Converter(10, 5.0, 1.0, 2.0, 0.2), 1.0), (Converter(12, 3.3, 1.6, 1.6, 0.5), 0.99),
          (Converter(12, 5.0, 1.0, 2.0, 0.0), 1.01), (Converter(12, 5.0, 1.0, 2.0, 0.0), 1.0),
          (Converter(16, 6.144, 1.0, 1.0, 1.0), 1.0)]


def _one_wiper(seed: int, converter: Converter, divider: float) -> Recording:
    """Return what two inputs read whose leads are clipped to the first track of a pedal."""
    rng = np.random.default_rng([seed, 1])
    pedal, bench = random_pedal(rng, "same slope", 2)
    once = simulate_sweep(pedal, 500.0, seed=seed, motion=bench.motion, converter=FINE).recording
    at_wiper = once.channel("a").volts()
    made = {
        "full_scale": float(converter.full_scale), "reference_volts": converter.reference_volts}
    tracks = [replace(once.channel("a"), column=column, scale=converter.track_scale,
                      readings=converter.read(at_wiper * by, converter.track_scale, rng), **made)
              for column, by in (("a", 1.0), ("b", divider))]
    supply = replace(once.channel("supply"), scale=converter.supply_scale, **made,
                     readings=converter.read(once.channel("supply").volts(),
                                             converter.supply_scale, rng))
    return replace(once, channels=(*tracks, supply))


@pytest.mark.parametrize(("converter", "divider"), INPUTS)
@pytest.mark.parametrize("seed", [1, 2])
def test_two_inputs_on_one_wiper_are_told(seed, converter, divider):
    found = analyse(_one_wiper(seed, converter, divider))
    same = [f for f in found.faults if f.kind == "same wiper"]
    assert len(same) == 1
    assert not found.sound
    # A step coarser than what two good potentiometers differ by is weak evidence, and said to be.
    coarse = found.tracks["a"].step_volts > 0.001 * found.tracks["a"].span.value
    assert same[0].gravity == (1 if coarse else 2)
    assert ("weak evidence" in fault_text(same[0])) == coarse
    assert ("read the same wiper" in fault_text(same[0])) != coarse
    assert "one lead off" in fault_text(same[0])
    assert any(fault_text(same[0]) in w for w in as_texts(found.warnings))


@pytest.mark.parametrize("seed", range(8))
def test_two_potentiometers_of_equal_slope_are_not(seed):
    rng = np.random.default_rng([seed, 2])
    pedal, bench = random_pedal(rng, "same slope")
    found = analyse(simulate_sweep(pedal, bench.rate_hz, seed=seed, motion=bench.motion,
                                   converter=bench.converter).recording)
    assert not any(f.kind == "same wiper" for f in found.faults)


@pytest.mark.parametrize("seed", [10, 40])
def test_neither_are_those_of_the_second_generator(seed):
    """Every fifth of its sweeps is a pair of the same slope."""
    recording, truth = random_sweep(seed)
    assert truth.relation == "same slope"
    assert not any(f.kind == "same wiper" for f in analyse(recording).faults)


@pytest.mark.parametrize("seed", range(3))
def test_two_twins_that_sit_alike_are_not(seed):
    """Same rest and full level to the last digit, bent by a tenth of a per cent only."""
    rng = np.random.default_rng([seed, 3])
    pedal, bench = random_pedal(rng, "same slope", 1)
    first, second = pedal.tracks
    twins = [replace(t, rest_ratio=0.15, full_ratio=0.85,
                     bend_percent=tuple(b / 6 for b in t.bend_percent))
             for t in (first, second)]
    found = analyse(simulate_sweep(replace(pedal, tracks=tuple(twins)), bench.rate_hz, seed=seed,
                                   motion=bench.motion, converter=bench.converter).recording)
    assert not any(f.kind == "same wiper" for f in found.faults)
