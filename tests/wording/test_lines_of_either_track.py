"""What cannot be told of which track is told of either, in the short lines as in the sentences."""

import pytest

from analysis.evidence.claim import Finding
from bench.wording.short import OF_EITHER, short_line


def _line(code: str, channel: str | None) -> str:
    subject = "track" if channel else "pair"
    return short_line(Finding(code, 3, subject, channel, 4.0, 40.0, {}))


@pytest.mark.parametrize("code", sorted(OF_EITHER))
def test_a_fault_of_either_names_no_track_and_fits_its_line(code: str) -> None:
    """Without a channel the line says so; with one it names the track."""
    assert _line(code, None).startswith(OF_EITHER[code])
    assert len(_line(code, None)) <= 76
    assert "..." not in _line(code, None)
    assert _line(code, "b").startswith("track b ")
