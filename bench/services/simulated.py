"""The boards that need no hardware: a pedal, a car, a sender, and a serial port to put one on."""

from bench.acquisition.boards.pty_server import PtyServer, can_serve
from bench.acquisition.boards.simulated import SimulatedCarBoard, SimulatedPedalBoard
from bench.acquisition.boards.simulated_sender import SimulatedSenderBoard

__all__ = ["PtyServer", "SimulatedCarBoard", "SimulatedPedalBoard", "SimulatedSenderBoard",
           "can_serve"]
