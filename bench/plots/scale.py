"""In what unit the levels of a sweep are drawn: volts, those of a rheostat in ohms."""

from dataclasses import dataclass

from analysis.model.recording import Recording


@dataclass(frozen=True)
class Scale:
    """Hold what levels and differences of stated volts are multiplied with, and their units.

    digits: of a level in words.
    """

    level: float = 1.0
    unit: str = "V"
    digits: int = 3
    small: float = 1000.0
    small_unit: str = "mV"

    @property
    def axis(self) -> str:
        """Return the long label of an axis of levels."""
        return ("volts at nominal supply (V)" if self.unit == "V" else
                f"ohms of the rheostat ({self.unit})")

    @property
    def short_axis(self) -> str:
        """Return the short one."""
        return f"volts ({self.unit})" if self.unit == "V" else f"ohms ({self.unit})"

    def told(self, volts: float) -> str:
        """Return a level in words."""
        return f"{self.level * volts:.{self.digits}f} {self.unit}"

    def fine(self, volts: float, digits: int) -> str:
        """Return a difference in words."""
        return f"{self.small * volts:.{digits}f} {self.small_unit}"


def scale_of(recording: Recording) -> Scale:
    """Return the scale that a recording's stated volts are drawn on."""
    per_volt = recording.ohms_per_volt
    return Scale() if per_volt is None else Scale(per_volt, "Ω", 0, per_volt, "Ω")
