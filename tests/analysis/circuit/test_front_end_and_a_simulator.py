"""The network's model and a general circuit simulator agree; by hand at large in the study."""

import shutil

import pytest
from circuit_networks import furthest


@pytest.mark.skipif(shutil.which("ngspice") is None, reason="ngspice is not installed")
def test_ngspice_reads_the_same_pins():
    """ngspice's operating point of five random pedals, within a microvolt."""
    assert furthest(5, seed=19) < 1e-6
