"""A thermistor (NTC): the beta equation and Steinhart-Hart's.

    beta:            1/T = 1/298.15 K + ln(R / R25) / beta
    Steinhart-Hart:  1/T = A + B ln R + C (ln R)^3          (Steinhart & Hart 1968)
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.senders.calibration import Calibration
from analysis.senders.calibration.curve import KELVIN
from analysis.senders.resistive import Resistive
from analysis.senders.sender import Diagnosis, fahrenheit_diagnosis, positive

T25 = 298.15
# Values that thermistors come with (common practice, no source).
COMMON_R25 = (1e3, 2e3, 2.2e3, 2.7e3, 3e3, 5e3, 10e3, 15e3, 20e3, 30e3, 47e3, 50e3, 100e3, 200e3)
COMMON_BETA = (3380.0, 3435.0, 3470.0, 3590.0, 3650.0, 3740.0, 3892.0, 3950.0, 3977.0, 4050.0,
               4150.0, 4250.0, 4400.0)
# Parts are good to a few per cent (common practice, no source).
R25_TOLERANCE = 0.07
BETA_TOLERANCE = 0.02
# About 2 mW warm a bead by 1 K in still air (common practice, no source).
WATTS_PER_KELVIN = 2e-3
_LEAST_SPAN_KELVIN = 5.0


@dataclass(frozen=True)
class Thermistor(Resistive):
    """Hold a thermistor of r25_ohms at 25 C and beta kelvin."""

    kind = "thermistor"
    unit = "°C"
    shown_unit = "ohm"
    forms = ("beta", "steinhart-hart", "table")

    r25_ohms: float = 10e3
    beta_kelvin: float = 3950.0

    def __post_init__(self) -> None:
        super().__post_init__()
        positive(self, "r25_ohms", "beta_kelvin")

    def shown(self, volts: Array) -> Array:
        """Return ohms, over which the thermistor's law is fitted; NaN where open or short."""
        return self.sound_ohms(volts)

    def temperature(self, ohms: Array) -> Array:
        """Return degrees Celsius by the stated beta, same shape."""
        result: Array = 1.0 / (1.0 / T25 + np.log(np.asarray(ohms, dtype=float) / self.r25_ohms)
                               / self.beta_kelvin) - KELVIN
        return result

    def quantity(self, x: Array) -> Array:
        """Return degrees Celsius by the stated R25 and beta of x in ohm, same shape."""
        return self.temperature(x)

    def resistance(self, celsius: Array) -> Array:
        """Return ohms by the stated beta, same shape."""
        result: Array = self.r25_ohms * np.exp(
            self.beta_kelvin * (1.0 / (np.asarray(celsius, dtype=float) + KELVIN) - 1.0 / T25))
        return result

    def notes(self) -> tuple[Reason, ...]:
        """Return how far its own current warms it at worst."""
        watts = self.supply_volts**2 / (4.0 * self.known_ohms)
        warm = watts / WATTS_PER_KELVIN
        return (Reason("its own current warms the thermistor", {
            "watts": watts, "kelvin": warm}),) if warm > 0.3 else ()

    def diagnose(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return whether R25 and beta are as stated, or which common ones fit."""
        found = []
        celsius = calibration.points.meter
        ohms = calibration.x
        if np.ptp(celsius) < _LEAST_SPAN_KELVIN or np.ptp(ohms) == 0:
            return (Diagnosis("narrow", Reason("points too close for a beta", {
                "kelvin": float(np.ptp(celsius))}), wrong=False),)
        warmer = np.corrcoef(np.log(ohms), celsius)[0, 1]
        if warmer > 0.5:
            return (Diagnosis("reversed", Reason("resistance rises with temperature", {
                "to_ground": self.to_ground})),)
        fahrenheit = fahrenheit_diagnosis(self.temperature(ohms), celsius)
        if fahrenheit:
            return fahrenheit
        r25, beta, error = fit_beta(ohms, celsius)
        found.append(self._beta(beta, error))
        if abs(r25 / self.r25_ohms - 1.0) > R25_TOLERANCE:
            best = min(COMMON_R25, key=lambda r: abs(np.log(r / r25)))
            named = abs(best / r25 - 1.0) <= R25_TOLERANCE
            found.append(Diagnosis("other R25", Reason("another resistance at 25 C", {
                "r25_ohms": r25, "stated": self.r25_ohms,
                "perhaps_ohms": best if named else None}), best if named else r25))
        return tuple(found)

    def _beta(self, beta: float, error: float) -> Diagnosis:
        # Two points carry no scatter; the parts' own tolerance is all there is then.
        known = bool(np.isfinite(error))
        room = BETA_TOLERANCE * self.beta_kelvin + (1.96 * error if known else 0.0)
        if abs(beta - self.beta_kelvin) <= room:
            return Diagnosis("as stated", Reason("beta as stated", {
                "beta_kelvin": beta, "stated": self.beta_kelvin}), beta, wrong=False)
        best = min(COMMON_BETA, key=lambda b: abs(b - beta))
        return Diagnosis("beta mistaken", Reason("another beta", {
            "beta_kelvin": beta, "half_width": 1.96 * error if known else None,
            "stated": self.beta_kelvin, "common_kelvin": best}), beta)


def fit_beta(ohms: Array, celsius: Array) -> tuple[float, float, float]:
    """Return R25 in ohms, beta in kelvin and beta's standard uncertainty from the scatter.

    ohms, celsius: shape (n,), n >= 2. A line of ln R over 1/T; NaN uncertainty for n = 2.
    """
    over = 1.0 / (celsius + KELVIN) - 1.0 / T25
    log = np.log(ohms)
    slope, intercept = np.polyfit(over, log, 1)
    residual = log - intercept - slope * over
    error = float("nan")
    if ohms.size > 2:
        error = float(np.sqrt(residual @ residual / (ohms.size - 2)
                              / np.sum((over - over.mean()) ** 2)))
    return float(np.exp(intercept)), float(slope), error
