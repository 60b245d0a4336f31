"""What can be wrong with the numbers; each class says when it happens.

An error is a code with values, as a finding is; the line a person reads, with the value and what
to do about it, is made in bench/wording/refusals.py.
"""

from typing import Any

from analysis.model.finding import Reason


class AnalysisError(ValueError):
    """Base of all errors that `analysis` raises about the data or the parameters.

    code: what is wrong. values: what its sentence is made of, units in the names.
    """

    def __init__(self, code: str, **values: Any) -> None:
        self.code, self.values = code, values
        super().__init__(code)

    @property
    def reason(self) -> Reason:
        """Return it as the reason of something else."""
        return Reason(self.code, self.values)

    def __str__(self) -> str:
        told = ", ".join(f"{name} {value!r}" for name, value in self.values.items())
        return f"{self.code} ({told})" if told else self.code


class BadRecording(AnalysisError):
    """A recording contradicts itself: columns of unequal length, time running backwards."""


class BadParameter(AnalysisError):
    """A value the user asked for lies outside what makes sense; the message quotes both."""


class OutOfLimits(BadParameter):
    """A parameter lies outside its limits; each face says so with its own name for it.

    name: of the field of `Parameters`. limits: both included; choices: of a choice, in their
    place. track: of a voltage stated for one track.
    """

    def __init__(self, name: str, value: object, limits: tuple[float, float] = (0.0, 0.0),
                 unit: str = "", *, choices: tuple[str, ...] = (),
                 track: str | None = None) -> None:
        self.name, self.value, self.limits, self.unit = name, value, limits, unit
        self.choices, self.track = choices, track
        super().__init__("out of limits", name=name, value=value, limits=limits, unit=unit,
                         choices=choices, track=track)

    def __reduce__(self) -> tuple[Any, ...]:
        # Else it could not come back from another process.
        return type(self).__new__, (type(self), self.code), self.__dict__


class SweepTooShort(AnalysisError):
    """There are too few readings to say anything at all."""


class NoPressFound(AnalysisError):
    """The readings never leave rest by enough to be a press of the pedal."""


class NoTrack(AnalysisError):
    """The recording has no channel of role `track`, so there is no pedal in it."""


class SupplyMissing(AnalysisError):
    """The supply channel reads next to nothing, so no track can be stated against it."""


class NoCalibration(AnalysisError):
    """Too few or contradictory points for the line that was asked for."""


class NoKeyOn(AnalysisError):
    """Nothing in the log shows when the key was turned on."""
