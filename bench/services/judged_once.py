"""What was worked out of a job's files, kept for as long as they and all it goes by are the same.

Each step done on the page Proof has the whole job read anew: without this every file of it would
be judged again for one more line in the record.
"""

from collections import OrderedDict
from collections.abc import Callable
from threading import Lock
from typing import Generic, TypeVar

Result = TypeVar("Result")


class JudgedOnce(Generic[Result]):
    """Keep the newest results by key, each with what it went by; safe for several threads."""

    def __init__(self, most: int) -> None:
        self._most, self._lock = most, Lock()
        self._kept: OrderedDict[object, tuple[object, Result]] = OrderedDict()

    def get(self, key: tuple[str, ...], by: object, work: Callable[[], Result]) -> Result:
        """Return what `work` gives, or gave for this key and for an equal `by`.

        key: names the files by the digests of their bytes. by: everything else that the result
        follows from, compared by equality.
        """
        with self._lock:
            before, result = self._kept.get(key, (None, None))
            if result is not None and before == by:
                self._kept.move_to_end(key)
                return result
        made = work()
        with self._lock:
            self._kept[key] = (by, made)
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return made
