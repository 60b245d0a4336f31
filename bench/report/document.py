"""What a report is made of, before it is laid out on paper or as a web page."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Heading:
    """A section's title; it is never left alone at the foot of a page."""

    text: str


@dataclass(frozen=True)
class Text:
    """A paragraph. style: "body", "lead" (the sentence to be read first) or "small"."""

    text: str
    style: str = "body"


@dataclass(frozen=True)
class Points:
    """A short list of sentences."""

    items: tuple[str, ...]
    style: str = "body"


@dataclass(frozen=True)
class Box:
    """Sentences set apart by a rule at their side. tone: "caution", "stop", "mend", "clear"."""

    title: str
    items: tuple[str, ...]
    tone: str


@dataclass(frozen=True)
class Facts:
    """Labels with their text, two pairs to a line where they fit."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Column:
    """A column of a table. share: of the width; right: numbers, set flush right."""

    title: str
    share: float
    right: bool = False


@dataclass(frozen=True)
class Table:
    """A table. caption: what it holds, for who hears the page or jumps from table to table.

    On paper the heading above says so. groups: places of rows above which a rule parts one group
    from the next. strong: places of rows that are totals. named: whether the first cell of a row
    says what the row is about.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    groups: tuple[int, ...] = ()
    strong: tuple[int, ...] = ()
    named: bool = True


@dataclass(frozen=True)
class Figure:
    """A figure of `bench.plots`, with the sentence below it. svg: the document."""

    svg: str
    caption: str


@dataclass(frozen=True)
class Figures:
    """Figures side by side, one or two. ratio: height to width of each."""

    figures: tuple[Figure, ...]
    ratio: float


@dataclass(frozen=True)
class Sign:
    """Lines to be filled in by hand."""

    labels: tuple[str, ...]


Block = Heading | Text | Points | Box | Facts | Table | Figures | Sign


@dataclass(frozen=True)
class Document:
    """A whole report. foot: stands at the foot of every page, before the page number."""

    title: str
    subtitle: str
    foot: str
    blocks: tuple[Block, ...]
