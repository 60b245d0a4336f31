"""What was said of a board once, kept for the next time: its scale, its inputs, its speed.

Rules: a USB board is known by its own identity wherever it is plugged in; a port without one by its
path. What the user says now goes before what is kept, and the use of it is always said. One JSON
file, where settings belong on each system.
"""

import json
import os
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from analysis.model.errors import AnalysisError
from bench.acquisition.boards import REPLAY, SIMULATED
from bench.acquisition.boards.channels import ChannelOptions
from bench.errors import BadCall, BenchError
from bench.files.new_file import move_new
from bench.files.read_limited import check_ordinary
from bench.system import locked, settings_folder

_MOST_BYTES = 1_000_000
SCHEMA = 1


@dataclass(frozen=True)
class Profile:
    """Hold what is known of one board.

    name: what the user calls it. identity: "usb:VID:PID:SERIAL" or "port:PATH". port: where it
    was last. baud, format: as last used, None and "auto" where nothing was said. channels: what
    the user said of its inputs.
    """

    name: str
    identity: str
    port: str
    baud: int | None = None
    format: str = "auto"
    channels: ChannelOptions = field(default_factory=ChannelOptions)

    @property
    def said(self) -> str:
        """Return in words what is kept of it."""
        c = self.channels
        parts = [f"full scale {c.full_scale:g}" if c.full_scale else "",
                 f"reference {c.reference_volts:g} V" if c.reference_volts else "",
                 f"inputs {', '.join(c.columns)}" if c.columns else "",
                 ", ".join(f"{k} is {v}" for k, v in c.roles.items()),
                 ", ".join(f"scale of {k} {v:g}" for k, v in c.scale.items()),
                 ", ".join(f"offset of {k} {v:g} V" for k, v in c.offset_volts.items()),
                 f"supply {c.supply_volts:g} V" if c.supply_volts else "",
                 f"step {c.step_volts:g} V" if c.step_volts else "",
                 f"{self.baud} baud" if self.baud else "",
                 self.format if self.format != "auto" else ""]
        return "; ".join(p for p in parts if p) or "nothing but its name"


def profiles_path() -> Path:
    """Return the file of the profiles: where settings belong on this system."""
    return settings_folder() / "boards.json"


def known_profiles() -> tuple[Profile, ...]:
    """Return all profiles by name; none where the file is missing or cannot be understood."""
    return _read()[0]


def not_understood() -> bool:
    """Return whether there is a file of profiles that cannot be understood.

    It is put aside under another name when the next profile is kept.
    """
    return not _read()[1]


def _read() -> tuple[tuple[Profile, ...], bool]:
    """Return the profiles by name, and whether the file was understood or is not there at all."""
    path = profiles_path()
    try:
        if not path.exists():
            return (), True
        check_ordinary(path)
        if path.stat().st_size > _MOST_BYTES:
            return (), False
        data = json.loads(path.read_text("utf-8"))
        return tuple(sorted((_from_plain(each) for each in data["boards"]),
                            key=lambda p: p.name)), True
    except (OSError, ValueError, LookupError, TypeError, AttributeError, ArithmeticError,
            RecursionError, AnalysisError, BenchError):
        return (), False


def profile_of(board: str, identity: str) -> Profile | None:
    """Return the profile of a board by its name or identity, None when it is not known."""
    known = known_profiles()
    by_name = next((p for p in known if p.name == board), None)
    return by_name or next((p for p in known if p.identity == identity), None)


def profile_said(board: str, identity: str, channels: ChannelOptions, baud: int | None = None,
                 form: str = "auto", name: str | None = None) -> Profile:
    """Return the profile of a board with what is said of it now; the rest stays as it was kept.

    board: its port or kept name; channels: all that holds of its inputs. baud None, form "auto"
    and name None say nothing.
    """
    former = profile_of(board, identity)
    if former is None:
        return Profile(name or free_profile_name(board), identity, board, baud, form, channels)
    return Profile(
        name or former.name, identity, former.port if board == former.name else board,
        former.baud if baud is None else baud, former.format if form == "auto" else form, channels)


def keep_profile(profile: Profile) -> None:
    """Keep a profile in place of an older one of the same board.

    Raises BadCall when another board has that name, or nothing can be written there.
    """
    with _alone():
        others = [p for p in known_profiles() if p.identity != profile.identity]
        if any(p.name == profile.name for p in others):
            raise BadCall(f"another board is called {profile.name!r}; choose another name, or "
                          f"'stillpedal boards --forget {profile.name}' first")
        _write((*others, profile))


def forget_profile(name: str) -> None:
    """Forget one profile; raise BadCall when none has that name."""
    with _alone():
        known = known_profiles()
        left = [p for p in known if p.name != name]
        if len(left) == len(known):
            names = ", ".join(p.name for p in known) or "none"
            raise BadCall(f"no board is called {name!r}; known: {names}")
        _write(tuple(left))


def merged(said: ChannelOptions, kept: ChannelOptions) -> ChannelOptions:
    """Return what the user says now, and below that what is kept.

    Inputs named anew put aside all that was kept by the old names.
    """
    if said.columns is not None and said.columns != kept.columns:
        kept = replace(kept, columns=None, roles={}, scale={}, offset_volts={})
    return ChannelOptions(
        said.columns or kept.columns, {**kept.roles, **said.roles},
        said.full_scale or kept.full_scale, said.reference_volts or kept.reference_volts,
        {**kept.scale, **said.scale}, {**kept.offset_volts, **said.offset_volts},
        said.supply_volts or kept.supply_volts, said.step_volts or kept.step_volts)


def is_port(board: str | None) -> bool:
    """Return whether a board's name is one of a port or a kept board."""
    return bool(board) and board != SIMULATED and not str(board).startswith(REPLAY) and not (
        str(board).lower().endswith(".csv") and Path(str(board)).is_file())


def free_profile_name(board: str) -> str:
    """Return a name for a board that no other one has, by the end of its port's path."""
    base = Path(board.replace("\\", "/")).name or "board"
    taken = {p.name for p in known_profiles()}
    name, number = base, 2
    while name in taken:
        name, number = f"{base}-{number}", number + 1
    return name


@contextmanager
def _alone() -> Iterator[None]:
    """Let no other program read, change and write the profiles meanwhile; tell what fails."""
    path = profiles_path()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with locked(path.with_name(".boards.lock")):
            yield
    except OSError as error:
        raise BadCall(f"cannot keep the board in {path} ({error.strerror or error}); make that "
                      "folder writable, or say nothing of the board") from None


def _write(profiles: tuple[Profile, ...]) -> None:
    path = profiles_path()
    text = json.dumps({"schema": SCHEMA, "boards": [asdict(p) for p in profiles]}, indent=1)
    if not_understood():
        # Somebody may still read it, or a later version.
        move_new(path, path.with_name("boards-not-understood.json"))
    handle, part = tempfile.mkstemp(prefix=".boards-", dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text + "\n")
            file.flush()
            os.fsync(handle)
        os.replace(part, path)
    except OSError:
        with suppress(OSError):
            os.unlink(part)
        raise


def options_from_plain(plain: Mapping[str, Any]) -> ChannelOptions:
    """Return what was kept of a board's inputs.

    Raise LookupError, TypeError, ValueError, AttributeError, ArithmeticError, AnalysisError or
    BenchError, and nothing else, when it makes no sense.
    """
    channels = dict(plain)
    columns = channels.get("columns")
    channels["columns"] = tuple(map(str, columns)) if columns else None
    channels["roles"] = {str(k): str(v) for k, v in channels.get("roles", {}).items()}
    for name in ("scale", "offset_volts"):
        channels[name] = {str(k): float(v) for k, v in channels.get(name, {}).items()}
    for name in ("full_scale", "reference_volts", "supply_volts", "step_volts"):
        channels[name] = None if channels.get(name) is None else float(channels[name])
    return ChannelOptions(**channels)


def _from_plain(plain: Mapping[str, Any]) -> Profile:
    baud = plain.get("baud")
    return Profile(str(plain["name"]), str(plain["identity"]), str(plain["port"]),
                   None if baud is None else int(baud), str(plain.get("format", "auto")),
                   options_from_plain(plain["channels"]))
