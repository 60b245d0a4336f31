"""What can be wrong with the numbers; each class says when it happens.

Every message is one line: what was wrong, with the value, and what to do about it.
"""


class AnalysisError(ValueError):
    """Base of all errors that `analysis` raises about the data or the parameters."""


class BadRecording(AnalysisError):
    """A recording contradicts itself: columns of unequal length, time running backwards."""


class BadParameter(AnalysisError):
    """A value the user asked for lies outside what makes sense; the message quotes both."""


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
