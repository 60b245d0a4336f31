"""What was done to the car while the log ran: steps, read from the marks beside its rows.

A step begins at its own mark and ends at the next one of this room, or at the end of the log. The
marks are words that a person could type as well:

| mark                          | step                                                             |
|-------------------------------|------------------------------------------------------------------|
| as wired                      | nothing changed: the control that all others are held against    |
| open LEAD                     | that lead opened at a plug or switch; LEAD is a track's column,  |
|                               | supply, ground, or "supply COLUMN" where a track has its own leg |
| short LEAD LEAD               | two leads joined through a resistor                              |
| shake LEAD, shake LEAD at ... | a lead or joint tapped, bent, lightly pulled; the pedal alone    |
| press sideways                | the pedal pressed sideways                                       |
| warm, cool                    | the box warmed gently, or left to cool; the pedal alone          |
| load NAME on, load NAME off   | a consumer of the car switched                                   |
| key-ons cold, key-ons warm    | before and after the drive: pressed with the key off; key on     |
| drive                         | the wheels turn                                                  |
| done                          | nothing: between two steps                                       |
"""

from dataclasses import dataclass

from analysis.model.recording import Recording

SUPPLY, GROUND = "supply", "ground"
AS_WIRED = "as wired"
# What a person says of the power where no channel shows it.
POWER_STOPPED, POWER_ON = "power stopped", "power still on"
# And of a consumer that was switched on.
LOAD_RUNS, LOAD_RESTS = "it runs", "it does not run"
_LONE = {AS_WIRED: AS_WIRED, "press sideways": "sideways", "warm": "warm", "cool": "cool",
         "drive": "drive", "done": "done"}


@dataclass(frozen=True)
class Step:
    """Hold one step of the log: rows [start, stop), times in seconds.

    kind: "as wired", "open", "short", "shake", "sideways", "warm", "cool", "load", "key-ons",
    "drive".
    leads: the leads opened, joined or shaken, or the load's name. place: where it was shaken.
    on: of a load, whether it was switched on.
    """

    kind: str
    leads: tuple[str, ...]
    start: int
    stop: int
    start_s: float
    end_s: float
    place: str = ""
    on: bool = False

    @property
    def mark(self) -> str:
        """Return the mark that begins such a step."""
        return mark_of(self.kind, self.leads, self.place, self.on)


def mark_of(kind: str, leads: tuple[str, ...] = (), place: str = "", on: bool = False) -> str:
    """Return the words that mark the beginning of a step."""
    if kind == "sideways":
        return "press sideways"
    if kind == "load":
        return f"load {' '.join(leads)} {'on' if on else 'off'}"
    words = " ".join((kind, *leads))
    return f"{words} at {place}" if place else words


def steps_of(recording: Recording) -> tuple[Step, ...]:
    """Return the steps of a log in order of time; () where no mark is one of this room.

    Marks behind the last row, and those of other rooms (`key on`, `gap N`), begin nothing.
    """
    tracks = {c.column for c in recording.with_role("track")}
    begun = [(m.row, found) for m in recording.marks if m.row < recording.rows
             and (found := _read(m.text, tracks)) is not None]
    result = []
    for number, (row, (kind, leads, place, on)) in enumerate(begun):
        stop = begun[number + 1][0] if number + 1 < len(begun) else recording.rows
        if kind != "done" and stop > row:
            result.append(Step(kind, leads, row, stop, float(recording.time_s[row]),
                               float(recording.time_s[stop - 1]), place, on))
    return tuple(result)


def _read(text: str, tracks: set[str]) -> tuple[str, tuple[str, ...], str, bool] | None:
    """Return what a mark begins: kind, leads, place, on; None for a mark of another room."""
    plain = " ".join(text.split())
    if plain.lower() in _LONE:
        return _LONE[plain.lower()], (), "", False
    words = plain.split(" ")
    first = words[0].lower()
    if first == "key-ons" and [w.lower() for w in words[1:]] in (["cold"], ["warm"]):
        return "key-ons", (words[1].lower(),), "", False
    if first == "load" and len(words) >= 3 and words[-1].lower() in ("on", "off"):
        return "load", (" ".join(words[1:-1]),), "", words[-1].lower() == "on"
    if first == "shake" and len(words) >= 2:
        rest, _, place = plain[len("shake "):].partition(" at ")
        lead = _lead(rest, tracks)
        return None if lead is None else ("shake", (lead,), place.strip(), False)
    if first == "open" and len(words) >= 2:
        lead = _lead(" ".join(words[1:]), tracks)
        return None if lead is None else ("open", (lead,), "", False)
    if first == "short" and len(words) == 3:
        one, other = _lead(words[1], tracks), _lead(words[2], tracks)
        if one is not None and other is not None and one != other:
            return "short", (one, other), "", False
    return None


def _lead(words: str, tracks: set[str]) -> str | None:
    """Return a lead's name as this room writes it; None for no lead of this pedal."""
    if words in tracks:
        return words
    first, _, leg = words.partition(" ")
    if first.lower() in (SUPPLY, GROUND) and (not leg or leg in tracks):
        return f"{first.lower()} {leg}".strip()
    return None


def tracks_behind(lead: str, tracks: tuple[str, ...]) -> tuple[str, ...]:
    """Return the tracks whose readings hang on a lead: its own, or all on a shared leg."""
    if lead in tracks:
        return (lead,)
    _, _, leg = lead.partition(" ")
    return (leg,) if leg else tracks
