"""The pages in the order of the work, each made when it is first wanted.

A page's module loads with it, and with most of them the plotting library: the window stands before
they do.
"""

from collections.abc import Callable, Iterator, Mapping
from importlib import import_module
from typing import NamedTuple

from bench.window.pages.page import Page, PageStatus
from bench.window.session import Session


class Entry(NamedTuple):
    """Hold what the rail shows of a page that is not made yet, and its class in `pages/KEY.py`."""

    title: str
    status: str
    name: str


TABLE = {
    "wire_up": Entry("Wire up", "not connected", "WireUpPage"),
    "sweep": Entry("Sweep", "not swept yet", "SweepPage"),
    "read": Entry("Read", "no recording yet", "ReadPage"),
    "decide": Entry("Decide", "no recording yet", "DecidePage"),
    "keep": Entry("Keep", "nothing opened", "KeepPage"),
    "in_car": Entry("In the car", "not logged yet", "InCarPage"),
    "senders": Entry("Senders", "nothing checked yet", "SendersPage"),
    "proof": Entry("Proof", "no job chosen", "ProofPage"),
}


class Pages(Mapping[str, Page]):
    """The pages by key; asking for one makes it. made: called with each new one."""

    def __init__(self, session: Session, made: Callable[[Page], object]) -> None:
        self._session, self._tell = session, made
        self._made: dict[str, Page] = {}

    def __getitem__(self, key: str) -> Page:
        if key not in self._made:
            entry = TABLE[key]
            page = getattr(import_module(f"bench.window.pages.{key}"), entry.name)(self._session)
            assert isinstance(page, Page)
            self._made[key] = page
            self._tell(page)
            # What happened before it was there.
            page.catch_up()
        return self._made[key]

    def __iter__(self) -> Iterator[str]:
        return iter(TABLE)

    def __len__(self) -> int:
        return len(TABLE)

    def made(self) -> list[Page]:
        """Return the pages that have been made."""
        return list(self._made.values())

    def status(self, key: str) -> PageStatus:
        """Return where a page stands, made or not."""
        page = self._made.get(key)
        if page is not None:
            return page.safe_status()
        # Of an opened recording only the page itself can tell.
        opened = self._session.findings is not None or self._session.key_on is not None
        return PageStatus("" if opened else TABLE[key].status, False)

    def make_one(self) -> bool:
        """Make the next page that has not been made; return whether there was one."""
        waiting = next((key for key in TABLE if key not in self._made), None)
        if waiting is not None:
            self[waiting]
        return waiting is not None
