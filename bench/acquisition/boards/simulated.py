"""A board with a simulated pedal, and one with a simulated car, for learning and for tests."""

from functools import cached_property

from analysis.model.errors import BadParameter
from analysis.model.recording import Recording
from analysis.simulation import Motion, Pedal, SimulatedSweep, pedal_named, simulate_sweep
from bench.acquisition.boards.streamed import StreamedBoard
from bench.errors import BadCall
from bench.wording.refusals import refused

BITS = (8, 10, 12, 14, 16, 18, 20, 24)
_RATES = (1.0, 20_000.0)


class SimulatedPedalBoard(StreamedBoard):
    """Let a simulated person sweep a simulated pedal in front of a simulated converter.

    prompts: (time_s, kind) at which this person expects each prompt; it follows late, as people
    do. The same seed gives the same sweep.
    """

    def __init__(self, pedal: Pedal | str = "off-at-rest", rate_hz: float = 500.0, bits: int = 12,
                 motion: Motion | None = None, seed: int = 1, speed: float | None = 1.0) -> None:
        if isinstance(pedal, str):
            try:
                pedal = pedal_named(pedal)
            except BadParameter as error:
                raise BadCall(refused(error)) from None
        if bits not in BITS:
            raise BadCall(f"a converter of {bits} bits; use one of {', '.join(map(str, BITS))}")
        if not _RATES[0] <= rate_hz <= _RATES[1]:
            raise BadCall(f"{rate_hz} rows per second; use {_RATES[0]:g} to {_RATES[1]:g}")
        self._pedal, self._rate, self._bits = pedal, rate_hz, bits
        self._motion, self._seed = motion or Motion(), seed
        super().__init__("simulated", lambda: self.sweep.recording, speed)

    @cached_property
    def sweep(self) -> SimulatedSweep:
        """Return the sweep that is sent, with the truth behind it."""
        return simulate_sweep(self._pedal, self._rate, self._bits, motion=self._motion,
                              seed=self._seed)

    @property
    def prompts(self) -> tuple[tuple[float, str], ...]:
        """Return when the person expects which prompt."""
        recording = self.sweep.recording
        times = [float(recording.time_s[m.row]) for m in recording.marks
                 if not m.text.startswith("gap")]
        kinds = [part.kind for part in self.sweep.truth.parts]
        return tuple(zip(times, kinds, strict=True))


class SimulatedCarBoard(StreamedBoard):
    """Turn the key of a simulated car a few times, foot off the pedal.

    pedal: the name of the one in it, None for one of its own.
    """

    def __init__(self, cycles: int = 3, rate_hz: float = 1000.0, seed: int = 1,
                 speed: float | None = 1.0, pedal: str | None = None) -> None:
        if not 1 <= cycles <= 1000 or not _RATES[0] <= rate_hz <= _RATES[1]:
            raise BadCall(f"{cycles} key cycles at {rate_hz:g} Hz; use 1 to 1000 at "
                          f"{_RATES[0]:g} to {_RATES[1]:g} Hz")

        def log() -> Recording:
            from analysis.simulation.car import Car, CarNoise, CarTrack, drive

            tracks = Car.tracks if pedal is None else tuple(
                CarTrack(name, 5.0 * t.rest_ratio, 5.0 * t.full_ratio)
                for name, t in zip("ab", pedal_named(pedal).tracks, strict=False))
            return drive(Car(
                tracks=tracks, cycles=cycles, rate_hz=rate_hz, seed=seed, ground_volts=0.012,
                ground_scatter_volts=0.001, noise=CarNoise(white_on=0.002)))[0]

        super().__init__("simulated", log, speed)
