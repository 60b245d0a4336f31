"""Long recordings on every core: pieces of work that need nothing of one another, run in threads.

numpy lets other threads run while it goes over a long array, so threads share the cores without
copying a row. The numbers are those of one thread, bit for bit: only whole jobs and steps that look
at one row at a time are shared out.
"""

import os
import threading
from collections.abc import Callable, Iterable
from typing import Any, TypeVar

# Shorter recordings are through before a second thread has begun to be of use.
LONG_ROWS = 200_000
# Rows worked on together: as many as several arrays of them stay in a core's own cache.
BLOCK_ROWS = 1 << 15
# More threads than this only wait for memory.
MOST_THREADS = 4

Result = TypeVar("Result")


def side_by_side(rows: int, *jobs: Callable[[], Any]) -> list[Any]:
    """Return what each job returns, in their order; those on long recordings run in threads.

    rows: of the recording; below LONG_ROWS the jobs run one after the other. The jobs must not
    write to anything that another one reads. Raises what the first of them raises, in their order.
    """
    if rows < LONG_ROWS or len(jobs) < 2 or _threads() < 2:
        return [job() for job in jobs]
    results: list[Any] = [None] * len(jobs)
    errors: dict[int, BaseException] = {}
    waiting = iter(enumerate(jobs))
    taking = threading.Lock()

    def work() -> None:
        while True:
            with taking:
                number, job = next(waiting, (-1, None))
            if job is None or errors:
                return
            try:
                results[number] = job()
            except BaseException as error:
                errors[number] = error

    helpers = [threading.Thread(target=work, name="beside", daemon=True)
               for _ in range(min(_threads(), len(jobs)) - 1)]
    for helper in helpers:
        helper.start()
    work()
    for helper in helpers:
        helper.join()
    if errors:
        raise errors[min(errors)]
    return results


def by_name(rows: int, names: Iterable[str], job: Callable[[str], Result]) -> dict[str, Result]:
    """Return by name what the job returns of it, such as of every track; see `side_by_side`."""
    every = list(names)
    made = side_by_side(rows, *(lambda n=n: job(n) for n in every))
    return dict(zip(every, made, strict=True))


def in_blocks(rows: int, job: Callable[[slice], None]) -> None:
    """Do the job for every block of rows, in threads where the recording is long.

    The job writes the rows of its block, and no other, to arrays that its caller made.
    """
    blocks = [slice(at, min(at + BLOCK_ROWS, rows)) for at in range(0, rows, BLOCK_ROWS)]
    parts = min(_threads(), len(blocks)) if rows >= LONG_ROWS else 1

    def share(part: int) -> None:
        for block in blocks[part * len(blocks) // parts: (part + 1) * len(blocks) // parts]:
            job(block)

    side_by_side(rows, *(lambda part=part: share(part) for part in range(parts)))


def _threads() -> int:
    there = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return min(there or 1, MOST_THREADS)
