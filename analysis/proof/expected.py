"""What each track is expected to read with one wire changed, from the network of pedal and input.

The wiper's share of its element is taken from the bench's own levels: volts over supply. An input
without any resistance to anything floats with its wire open: NaN, expected anywhere.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.circuit.network import GROUND as EARTH
from analysis.circuit.network import Resistor, node_volts
from analysis.parameters import Parameters
from analysis.pedal.preferred_values import E12
from analysis.proof.limits import Limits
from analysis.proof.steps import GROUND, SUPPLY, Step

# Leads and contacts (common practice, no source).
LEAD_OHMS = 1.0
# A short through a resistor must move the reading by this many mismatch limits to be a test at all.
TIMES_LIMIT = 2.0
# And draw no more than this through a wiper (common practice, no source).
MOST_AMPERES = 0.005


@dataclass(frozen=True)
class InputOhms:
    """Hold what the reading input is: ohms to ground, and of a pull to `pull_volts`; inf: none."""

    to_ground_ohms: float = float("inf")
    pull_ohms: float = float("inf")
    pull_volts: float = 5.0


def input_of(parameters: Parameters) -> InputOhms:
    """Return the reading input as far as it is stated; what nobody stated neither loads nor pulls.

    A resistance that is only known to be so much or more is left out: with its lead open such an
    input may stand anywhere.
    """
    ground = [parameters.board_input_ohms] if parameters.board_input_ohms > 0 else []
    if parameters.controller_input_measured:
        ground.append(parameters.controller_input_ohms)
    if parameters.controller_pull == "down":
        ground.append(parameters.controller_pull_ohms)
    up = parameters.controller_pull == "up"
    return InputOhms(1.0 / sum(1.0 / ohms for ohms in ground) if ground else float("inf"),
                     parameters.controller_pull_ohms if up else float("inf"),
                     parameters.controller_pull_volts)


def expected_volts(limits: Limits, step: Step, track_ohms: float, supply_volts: float = 5.0,
                   reads: InputOhms | None = None, travel_percent: float = 0.0,
                   short_ohms: float = 1000.0) -> Mapping[str, float]:
    """Return each track's volts at the controller with the step's wire changed.

    travel_percent: where the pedal stands. short_ohms: of the resistor that joins two leads.
    NaN for an input that floats. supply_volts: at which the limits are stated.
    """
    reads = reads or InputOhms()
    names = tuple(limits.tracks)
    opened = set(step.leads) if step.kind == "open" else set()
    legs = {n: tuple(f"{leg} {n}" if f"{leg} {n}" in step.leads else leg
                     for leg in (SUPPLY, GROUND)) for n in names}
    parts: list[Resistor] = []
    done: set[str] = set()
    for name in names:
        top, bottom = (f"{leg} end" for leg in legs[name])
        for leg, end, source in ((legs[name][0], top, "feed"), (legs[name][1], bottom, EARTH)):
            if leg not in done:
                done.add(leg)
                ohms = float("inf") if leg in opened else LEAD_OHMS
                parts.append(Resistor(source, end, ohms))
        level = limits.tracks[name]
        volts = level.rest_volts + travel_percent / 100.0 * (level.full_volts - level.rest_volts)
        share = min(max(volts / supply_volts, 0.0), 1.0)
        parts += [
            Resistor(top, f"wiper {name}", track_ohms * (1.0 - share)),
            Resistor(f"wiper {name}", bottom, track_ohms * share),
            Resistor(f"wiper {name}", f"pin {name}",
                     float("inf") if name in opened else LEAD_OHMS),
            Resistor(f"pin {name}", EARTH, reads.to_ground_ohms),
            Resistor(f"pin {name}", "pull", reads.pull_ohms),
        ]
    if step.kind == "short":
        one, other = (f"pin {lead}" if lead in names else f"{lead} end" for lead in step.leads)
        parts.append(Resistor(one, other, short_ohms))
    found = node_volts(parts, {"feed": supply_volts, "pull": reads.pull_volts})
    return {n: float(found[f"pin {n}"]) for n in names}


def short_resistor(limits: Limits, step: Step, track_ohms: float,
                   supply_volts: float = 5.0) -> float:
    """Return the E12 ohms to join two leads with: enough to be seen, little through a wiper.

    The largest value that moves a reading by TIMES_LIMIT mismatch limits at rest; NaN where that
    would draw more than MOST_AMPERES through a wiper at the end of its track, or where it moves
    nothing at all, as between two tracks that read alike.
    """
    values = [v * 10.0**decade for decade in (5, 4, 3, 2, 1) for v in reversed(E12)]
    for ohms in values:
        if ohms < supply_volts / MOST_AMPERES:
            break
        seen = expected_volts(limits, step, track_ohms, supply_volts, short_ohms=ohms)
        travel = [float(limits.tracks[n].travel(np.array([v]))[0]) for n, v in seen.items()]
        if max(travel) - min(travel) >= TIMES_LIMIT * limits.mismatch_percent:
            return float(f"{ohms:.3g}")
    return float("nan")
