"""Two sweeps of a rheostat on one scale of ohms, so that their levels can be set side by side."""

from dataclasses import replace

from analysis.pedal.findings import Findings, analyse


def on_one_scale(before: Findings, after: Findings) -> tuple[Findings, Findings]:
    """Return both findings; of two rheostats that of the finer scale read anew by the other's.

    The ohms of a rheostat lie on a scale of the full ohms that its recording or the parameters
    state (`RheostatInput`), and two recordings may have it from two of them.
    """
    first, second = before.recording.ohms_per_volt, after.recording.ohms_per_volt
    if first is None or second is None or first == second:
        return before, after
    per_volt = max(first, second)
    return (before if first == per_volt else _read_anew(before, per_volt),
            after if second == per_volt else _read_anew(after, per_volt))


def _read_anew(found: Findings, per_volt: float) -> Findings:
    """Return the findings of the same readings where one volt stands for so many ohms."""
    said = found.as_recorded or found.recording
    full = per_volt * said.nominal_volts / 2.0
    return analyse(replace(said, extra={**said.extra, "rheostat_full_ohms": full}),
                   replace(found.parameters, track_ohms=full))
