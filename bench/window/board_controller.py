"""Which board, how it is opened, and what the channels are: between the pages and the link."""

import json
from collections.abc import Callable

from PySide6.QtCore import QObject, QSettings, Signal
from PySide6.QtGui import QUndoStack

from analysis.model.pedal_kind import BY_HAND, KIND_KEY
from analysis.model.recording import Channel
from bench.errors import BadCall, OtherInputs
from bench.services.boards import (
    DEFAULT_BAUD,
    SIMULATED,
    Board,
    ChannelOptions,
    identity_of,
    is_port,
    keep_profile,
    list_boards,
    merged,
    open_named,
    profile_of,
    profile_said,
)
from bench.services.key_on import LoggerOptions, new_capture
from bench.services.record import Listener, Order, Plan, ProofGuide, by_hand, guided_plan, plan_of
from bench.window.channel_edits import ChannelEdits, from_plain, to_plain
from bench.window.live import LiveLink
from bench.window.remembered_numbers import whole_number
from bench.window.worker import Worker
from bench.wording.simulated import STORIES

# As long as a person may need to find a connector under the dash.
RETRY_S = 60.0
# Rows a second of the simulated pedal; and of one that only says what it would be asked.
SIMULATED_HZ, AHEAD_HZ = 500.0, 50.0


class BoardController(QObject):
    """Hold the board that was chosen and open it for looking or for recording.

    speed: of simulated boards, in their seconds per second.
    """

    boards_found = Signal(object)
    trouble = Signal(str)
    checked = Signal()

    def __init__(self, preferences: QSettings, undo_stack: QUndoStack,
                 parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.preferences = preferences
        self.link = LiveLink(self)
        self.edits = ChannelEdits(undo_stack, self)
        self.board_name = str(preferences.value("board/name", ""))
        self.baud = whole_number(preferences, "board/baud", DEFAULT_BAUD)
        self.pedal = str(preferences.value("board/pedal", "off-at-rest"))
        # What feeds the pedal, as said on this day: another day it may be another.
        self.fed_by: str | None = None
        self.kind: str | None = None
        self.use: str | None = None
        self.known_ohms: float | None = None
        self.speed = 1.0
        self._ahead: tuple[tuple[str, int, int], Plan | None] | None = None
        self._in_car = False
        # Boards whose remembered inputs the user said are right.
        self._checked: set[str] = set()
        self._finder = Worker(self)
        self._finder.failed.connect(self.trouble)
        self._options = ChannelOptions()
        self.link.changed.connect(self._source_came)
        self.link.failed.connect(self._try_without)
        self.edits.changed.connect(self._remember_channels)

    @property
    def said_feed(self) -> str | None:
        """Return what was said to feed the pedal of the board that is named, None for nothing."""
        return None if self.board_name == SIMULATED else self.fed_by

    def pedals(self) -> list[tuple[str, str]]:
        """Return the simulated pedals: name, what is the matter with it."""
        from analysis.simulation import PEDALS

        return [(p.name, STORIES[p.name]) for p in PEDALS]

    def find_boards(self) -> None:
        """Look for ports beside the window; `boards_found` follows."""
        self._finder.run("Looking for boards", lambda _progress: list_boards(),
                         self.boards_found.emit)

    def connect_board(self, name: str, baud: str, scale: tuple[str, str] | None) -> None:
        """Open a board for looking; scale: full scale and reference, where it does not say."""
        options = self._remembered(name)
        try:
            speed = int(baud) if name != SIMULATED else None
            if scale is not None:
                # What was stated just now was looked at just now.
                self._checked.add(name)
                options = merged(ChannelOptions(full_scale=float(scale[0]),
                                              reference_volts=float(scale[1])), options)
                self._keep(name, options)
        except ValueError:
            self.trouble.emit(f"speed {baud!r} and scale {scale} must be numbers; correct them")
            return
        self.board_name, self._options, self._in_car = name, options, False
        self.baud = speed or self.baud
        self.preferences.setValue("board/name", name)
        self.preferences.setValue("board/baud", self.baud)
        self.preferences.setValue("board/pedal", self.pedal)
        self.link.connect_board(name, self._opener(name, speed), Order(
            channels=options, retry_s=RETRY_S), loop=name == SIMULATED)

    @property
    def rheostat(self) -> dict[str, float]:
        """Return what the header says of how a rheostat is read; {} for another pedal."""
        known = self.known_ohms if self.kind == "rheostat" else None
        return {} if known is None else {"rheostat_known_ohms": known}

    @property
    def said(self) -> dict[str, object]:
        """Return what is said of the pedal, by key of the header."""
        return {KIND_KEY: self.kind, **self.rheostat}

    def _try_without(self, error: Exception) -> None:
        """Connect again without the remembered names when the board now has other inputs."""
        if isinstance(error, OtherInputs) and self._options.columns is not None:
            self.preferences.remove(f"channels/{_key(self.board_name)}")
            if is_port(self.board_name):
                self._keep(self.board_name, ChannelOptions(
                    full_scale=self._options.full_scale,
                    reference_volts=self._options.reference_volts))
            self.connect_board(self.board_name, str(self.baud), None)

    def disconnect_board(self) -> None:
        """Let go of the board."""
        self.link.disconnect_board()

    def record(self, order: Order, cycles: int, quick: int) -> None:
        """Record a guided sweep from the board that was connected."""
        self.link.record(self._opener(self.board_name, self.baud, cycles, quick), order,
                         lambda board: self._plan(board, cycles, quick))

    def plan_ahead(self, cycles: int, quick: int) -> Plan | None:
        """Return the plan that a sweep of the board that is named would follow, before it begins.

        None where none would be shown: a replay goes by itself.
        """
        if self.board_name != SIMULATED:
            replayed = bool(self.board_name) and not is_port(self.board_name)
            return None if replayed else guided_plan(cycles, quick, alone=not cycles)
        asked = self.pedal, cycles, quick
        if self._ahead is None or self._ahead[0] != asked:
            # This person presses as it was made to, whatever the rate; few rows are soon made.
            board = self._opener(SIMULATED, None, cycles, quick, AHEAD_HZ)()
            self._ahead = asked, self._plan(board, cycles, quick)
        return self._ahead[1]

    def car_options(self) -> ChannelOptions:
        """Return what the user says of the channels; the simulated car has its own."""
        return ChannelOptions() if self.board_name == SIMULATED else self.edits.options()

    def log_car(self, order: Order, options: LoggerOptions, say: Callable[[str], None],
                watch: Listener | None = None) -> None:
        """Log the car at key-on from the board that was connected; watch: who judges meanwhile."""
        self.link.record(self._car_opener(options.cycles or 3), order, lambda _board: None,
                         lambda: new_capture(order, options, say),
                         () if watch is None else (watch,))

    def prove(self, order: Order, make: Callable[[float], Board] | None,
              lead: Callable[[Board], ProofGuide]) -> None:
        """Record a proof from the board that was connected, led by what `lead(board)` returns.

        make: makes the simulated car of a speed, where the board is the simulated one.
        """
        speed = self.speed
        simulated = self.board_name == SIMULATED and make is not None
        opener = ((lambda: make(speed)) if simulated and make is not None
                  else self._opener(self.board_name, self.baud))
        self.link.record(opener, order, lambda _board: None, lead=lead)

    def look_in_car(self) -> None:
        """Look at the simulated car in place of the simulated pedal; other boards stay."""
        self._look(True)

    def look_at_pedal(self) -> None:
        """Look at the simulated pedal again."""
        self._look(False)

    def _look(self, in_car: bool) -> None:
        link = self.link
        if self.board_name != SIMULATED or not link.connected or in_car == self._in_car:
            return
        self._in_car = in_car
        # What is recorded, or has just been, is left alone; the next look is at the other one.
        look = link.connect_board if link.state in ("live", "opening") else link.prepare
        look(SIMULATED, self._car_opener(3) if in_car else self._opener(SIMULATED, None), Order(
            channels=ChannelOptions() if in_car else self.edits.options(), retry_s=RETRY_S), True)

    def _car_opener(self, cycles: int) -> Callable[[], Board]:
        name, baud, speed, pedal = self.board_name, self.baud, self.speed, self.pedal

        def make() -> Board:
            if name == SIMULATED:
                from bench.services.simulated import SimulatedCarBoard

                return SimulatedCarBoard(cycles, speed=speed, pedal=pedal)
            return open_named(name, baud)
        return make

    def _opener(self, name: str, baud: int | None, cycles: int = 8, quick: int = 4,
                rate_hz: float = SIMULATED_HZ) -> Callable[[], Board]:
        pedal, speed = self.pedal, self.speed

        def make() -> Board:
            if name == SIMULATED:
                from analysis.simulation import Motion
                from bench.services.simulated import SimulatedPedalBoard

                return SimulatedPedalBoard(
                    pedal, rate_hz, motion=Motion(cycles=cycles, quick=quick), speed=speed)
            return open_named(name, baud)
        return make

    def _plan(self, board: Board, cycles: int, quick: int) -> Plan | None:
        """Return the plan: the simulated person's own, none for a replay."""
        from bench.services.simulated import SimulatedPedalBoard

        if isinstance(board, SimulatedPedalBoard):
            plan = plan_of(board.prompts, cycles, float(board.recording.time_s[-1]))
        elif not board.needs_care:
            return None
        else:
            plan = guided_plan(cycles, quick, alone=not cycles)
        return by_hand(plan) if self.use == BY_HAND else plan

    @property
    def looked_at(self) -> tuple[Channel, ...]:
        """Return the channels of what is looked at: as edited, but for the simulated car's own."""
        source = self.link.source
        return self.edits.channels if not self._in_car else source.channels if source else ()

    @property
    def unchecked(self) -> bool:
        """Return whether names, roles and scales are those of last time, and nobody looked yet."""
        return (self.link.state in ("live", "recording") and not self._in_car
                and self._options != ChannelOptions() and self.board_name not in self._checked
                and not self.edits.edited)

    def check_inputs(self) -> None:
        """Take the word that the inputs are as they were, for this board and session."""
        self._checked.add(self.board_name)
        self.checked.emit()

    def _source_came(self) -> None:
        source = self.link.source
        if self._in_car:
            # The edits are those of the pedal's inputs, and stay.
            return
        if source is not None and self.link.state == "live" and (
                len(source.channels) != len(self.edits.channels) or self._fresh(source.channels)):
            self.edits.begin(source.channels)

    def _fresh(self, channels: tuple) -> bool:
        # What the recorder reports carries the options it was given; edits made since stay.
        return self.link.state == "live" and not self.edits.edited and (
            [(c.column, c.role) for c in channels]
            != [(c.column, c.role) for c in self.edits.channels])

    def _remember_channels(self) -> None:
        if self.edits.edited and is_port(self.board_name):
            self._keep(self.board_name, self.edits.options())
        elif self.edits.edited:
            self.preferences.setValue(f"channels/{_key(self.board_name)}",
                                   json.dumps(to_plain(self.edits.options())))

    def _keep(self, name: str, channels: ChannelOptions) -> None:
        """Keep what was said of a board where the commands find it too."""
        identity = identity_of(name)
        baud = self.baud if self.baud != DEFAULT_BAUD else None
        try:
            keep_profile(profile_said(name, identity, channels, baud))
        except BadCall as error:
            self.trouble.emit(str(error))

    def _remembered(self, name: str) -> ChannelOptions:
        if is_port(name):
            profile = profile_of(name, identity_of(name))
            return profile.channels if profile is not None else ChannelOptions()
        stored = self.preferences.value(f"channels/{_key(name)}")
        if stored is None or (name == SIMULATED and self.pedal == "one-track"):
            return ChannelOptions()
        try:
            return from_plain(json.loads(str(stored)))
        except (ValueError, RecursionError):
            return ChannelOptions()


def _key(name: str) -> str:
    return name.replace("/", "_").replace("\\", "_")
