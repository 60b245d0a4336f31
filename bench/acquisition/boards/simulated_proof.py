"""A board with a simulated car on which the proofs are done, for learning and for tests."""

from analysis.model.recording import Recording
from analysis.simulation.proof_car import ProofCar, proof_log
from bench.acquisition.boards.streamed import StreamedBoard


class SimulatedProofBoard(StreamedBoard):
    """Let a simulated person do a proof's steps on a simulated car.

    script: (seconds, mark) at which each step begins; the guide follows it.
    """

    def __init__(self, task: str, steps: tuple[tuple[str, float | None], ...],
                 speed: float | None = 1.0, car: ProofCar | None = None) -> None:
        made: Recording = proof_log(car or ProofCar(), task, steps)
        super().__init__("simulated", made, speed)
        self.script = tuple((float(made.time_s[m.row]), m.text) for m in made.marks)
