"""What a board check would have heard, made from codes."""

import numpy as np

from analysis.signal.board_check import Capture


def capture(readings, rate=500.0, ppm=0.0, jitter_s=0.0, delay_s=0.0, rng=None, lost=None,
            **more) -> Capture:
    """Return what a board with that clock would have sent, 20 rows to a piece."""
    rng = rng or np.random.default_rng(0)
    readings = np.asarray(readings, np.int64)
    readings = readings[:, None] if readings.ndim == 1 else readings
    n = len(readings)
    true_s = np.arange(n) / rate
    board_s = true_s * (1 + ppm * 1e-6) + jitter_s * rng.standard_normal(n)
    rows = np.arange(20, n + 1, 20)
    arrival = true_s[rows - 1] + 0.002 + delay_s * rng.exponential(size=rows.size)
    facts = {"board_name": "b", "columns": tuple("abcd"[:readings.shape[1]]),
             "lost_before": np.zeros(n, np.int64) if lost is None else lost,
             "seconds": n / rate, "bytes_received": 16 * n, "full_scale": 1024,
             "reference_volts": 5.0, "rate_hz": rate} | more
    return Capture(readings=readings, time_s=board_s, arrival_rows=rows, arrival_s=arrival, **facts)


def quantised(volts, sigma_lsb, rows, rng, full_scale=1024, reference=5.0):
    """Return codes of an ideal converter with noise at its input."""
    noisy = volts / reference * full_scale + sigma_lsb * rng.standard_normal(rows)
    return np.clip(np.rint(noisy), 0, full_scale - 1).astype(np.int64)
