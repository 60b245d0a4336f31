"""Long recordings on every core: pieces of work that need nothing of one another, run in threads.

numpy lets other threads run while it goes over a long array, so threads share the cores without
copying a row. The numbers are those of one thread, bit for bit: only whole jobs and steps that look
at one row at a time are shared out.
"""

from collections.abc import Callable, Iterable
from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from concurrent.futures import ThreadPoolExecutor

# Shorter recordings are through before a second thread has begun to be of use.
LONG_ROWS = 200_000
# Rows worked on together: as many as several arrays of them stay in a core's own cache.
BLOCK_ROWS = 1 << 15
# A pedal has two tracks, and more threads mostly wait for memory.
THREADS = 2

Result = TypeVar("Result")


def side_by_side(rows: int, *jobs: Callable[[], Any]) -> list[Any]:
    """Return what each job returns, in their order; those on long recordings run in threads.

    rows: of the recording; below LONG_ROWS the jobs run one after the other. The jobs must not
    write to anything that another one reads. Raises what the first of them raises, in their order.
    """
    if rows < LONG_ROWS or len(jobs) < 2:
        return [job() for job in jobs]
    results: list[Any] = [None] * len(jobs)
    errors: dict[int, BaseException] = {}
    # Taking the next one is a single step of the interpreter: no two threads get the same.
    waiting = iter(list(enumerate(jobs)))

    def work() -> None:
        for number, job in waiting:
            if errors:
                return
            try:
                results[number] = job()
            except BaseException as error:
                errors[number] = error

    others = [_helpers().submit(work) for _ in range(min(THREADS, len(jobs)) - 1)]
    work()
    for other in others:
        # One that never began is not needed any more: jobs within jobs wait for nobody.
        if not other.cancel():
            other.result()
    if errors:
        raise errors[min(errors)]
    return results


@cache
def _helpers() -> "ThreadPoolExecutor":
    # Loaded with the first long recording: most of them are short.
    from concurrent.futures import ThreadPoolExecutor

    return ThreadPoolExecutor(THREADS - 1, thread_name_prefix="beside")


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

    def share(part: int) -> None:
        for block in blocks[part * len(blocks) // THREADS: (part + 1) * len(blocks) // THREADS]:
            job(block)

    side_by_side(rows, *(lambda part=part: share(part) for part in range(THREADS)))
