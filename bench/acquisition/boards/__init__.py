"""The boards that can be read: on a serial port, simulated, or a recording sent again."""

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bench.acquisition.boards.board import Board
    from bench.acquisition.boards.serial_board import FoundPort

SIMULATED = "simulated"
REPLAY = "replay:"
# What most boards of this kind talk at when nobody says otherwise.
DEFAULT_BAUD = 115200


def list_boards() -> "tuple[FoundPort, ...]":
    """Return what could be given to --board: the simulated board, then the system's ports."""
    from bench.acquisition.boards.serial_board import FoundPort, found_ports

    simulated = FoundPort(SIMULATED, "a simulated pedal, in this program; no hardware needed")
    return (simulated, *found_ports())


def open_named(name: str, baud: int | None = None, speed: float | None = 1.0,
               simulated: "Board | None" = None) -> "Board":
    """Return the board of that name, not opened yet.

    name: "simulated", a port, "replay:FILE", or the path of a recording (*.csv). speed: of
    replays. simulated: the board that "simulated" means here; by default the simulated pedal.
    """
    if name == SIMULATED:
        from bench.acquisition.boards.simulated import SimulatedPedalBoard

        return simulated or SimulatedPedalBoard(speed=speed)
    replayed = name.removeprefix(REPLAY)
    if replayed != name or (name.lower().endswith(".csv") and Path(name).is_file()):
        from bench.acquisition.boards.replay import ReplayBoard

        return ReplayBoard(replayed, speed)
    from bench.acquisition.boards.serial_board import SerialBoard

    return SerialBoard(name, DEFAULT_BAUD if baud is None else baud)
