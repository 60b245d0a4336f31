"""The predicted rate of false application, against simulations long enough to count them."""

import numpy as np
import pytest
from scipy import stats
from studies.key_on_crossing_rates import KINDS, RATE_HZ, SIGMA, observed, proof_of

from bench.wording.reasons import in_words


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_predicted_rate_meets_the_simulated_one(kind: str) -> None:
    """Ten minutes of log predict what hours of simulation show, within the stated interval."""
    rate, events, count = observed(kind, 6.0, 5)
    assert count > 40
    proofs = [proof_of(kind, 600.0, seed) for seed in range(100, 104)]
    assert all(p.enough for p in proofs)
    # The count itself is uncertain: two standard deviations of a Poisson count, and of its
    # clusters where crossings come in bursts (about 10 in one).
    doubt = 2.0 * np.sqrt(count * (10 if kind == "bursts" else 1.5)) / count
    inside = sum(p.rate.low <= rate * (1 + doubt) and rate * (1 - doubt) <= p.rate.high
                 for p in proofs)
    assert inside >= 3
    assert sum(events <= p.free_bound_per_1000_h for p in proofs) >= 3


def test_gaussian_rate_is_the_exact_one() -> None:
    """For white Gaussian noise the prediction is 1 - Phi(z) per reading, less the repeats."""
    tail = stats.norm.sf(KINDS["Gaussian"])
    exact = tail * (1 - tail) * RATE_HZ * 3600 * 1000
    proofs = [proof_of("Gaussian", 600.0, seed) for seed in range(10)]
    assert sum(p.rate.low <= exact <= p.rate.high for p in proofs) >= 8
    assert np.median([p.rate.value for p in proofs]) == pytest.approx(exact, rel=0.05)


def test_short_log_is_honestly_not_enough() -> None:
    """Forty seconds of key-on give no rate, only the bound, and say what is missing."""
    proof = proof_of("Gaussian", 40.0, 1)
    assert not proof.enough
    assert np.isnan(proof.rate.value)
    assert "log at least 60 s" in in_words(proof.why)
    # The rule of three on the settled hours.
    assert proof.free_bound_per_1000_h == pytest.approx(2995.73 / proof.hours, rel=1e-4)


def test_rest_beyond_start_is_not_called_quiet() -> None:
    """A settled rest beyond start of travel is told as such, never as a tiny rate."""
    proof = proof_of("Gaussian", 120.0, 2, sigmas=-30.0)
    assert not proof.enough
    assert "beyond start of travel" in in_words(proof.why)


def test_reach_is_the_level_of_the_wished_hours() -> None:
    """The noise's reach is the level a Gaussian of that size passes 0.001 times in 1000 h."""
    proof = proof_of("Gaussian", 600.0, 3)
    # Share 0.02 of the risk 0.05 over 1000 h at 1 kHz, from the exact tail of scipy.stats.
    level = stats.norm.isf(0.02 * 0.05 / (1000 * 3600 * RATE_HZ)) * SIGMA
    assert proof.reach_volts == pytest.approx(level, rel=0.03)
