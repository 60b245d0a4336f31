"""The line of a dead band that holds warmth: as measured on the pedal, as stated, or as assumed."""

from dataclasses import dataclass

from analysis.model.finding import Reason
from analysis.parameters import Parameters
from analysis.pedal.budget_item import BudgetItem, ground_of

TEMPERATURE = "temperature"


@dataclass(frozen=True)
class MeasuredDrift:
    """Hold how far a pedal's rest moves per kelvin, as a warm log of it showed.

    ppm_per_kelvin: of the supply, the furthest end of the worst track's interval. lowest, highest:
    degrees that were seen. log: the file's name.
    """

    ppm_per_kelvin: float
    lowest: float
    highest: float
    log: str


def drift_in_use(parameters: Parameters, measured: MeasuredDrift | None) -> MeasuredDrift | None:
    """Return the measured drift where the line goes by it, else None.

    A larger one that the user stated stays: nobody states more than he saw without a reason.
    """
    stated = parameters.track_ppm_per_kelvin
    if measured is None or (stated > measured.ppm_per_kelvin
                            and "track_ppm_per_kelvin" in parameters.changed):
        return None
    return measured


def warmth_item(parameters: Parameters, nominal_volts: float,
                measured: MeasuredDrift | None) -> BudgetItem:
    """Return the line; volts at nominal supply. measured: by a warm log, None without one."""
    span, named = parameters.temperature_span_kelvin, "temperature_span_kelvin"
    in_use = drift_in_use(parameters, measured)
    if in_use is not None:
        volts = in_use.ppm_per_kelvin * 1e-6 * span * abs(nominal_volts)
        return BudgetItem(TEMPERATURE, volts, "measured", Reason("temperature measured", {
            "ppm_per_kelvin": in_use.ppm_per_kelvin, "volts": nominal_volts, "kelvin": span,
            "lowest": in_use.lowest, "highest": in_use.highest, "log": in_use.log,
            "span_stated": named in parameters.changed}))
    ppm = parameters.track_ppm_per_kelvin
    return BudgetItem(
        TEMPERATURE, ppm * 1e-6 * span * abs(nominal_volts),
        ground_of(parameters, "track_ppm_per_kelvin", named),
        Reason("temperature", {"ppm_per_kelvin": ppm, "volts": nominal_volts, "kelvin": span}))
