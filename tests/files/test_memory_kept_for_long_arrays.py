"""Freed memory is kept for the next array: counted by the kernel, in a process of its own."""

import platform
import subprocess
import sys

import pytest

# As the rows of a recording are decoded: block after block, each in a handful of arrays.
ARRAYS = """
import resource, sys
import numpy as np
from bench.files.malloc_tuning import keep_freed_memory
assert sys.argv[1] == "no" or keep_freed_memory()
before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
for _ in range(100):
    arrays = [np.ones(60_000) for _ in range(8)]
    del arrays
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="mallopt is glibc's")
def test_the_arrays_of_a_second_block_take_the_memory_of_the_first():
    def faults(keep: str) -> int:
        done = subprocess.run([sys.executable, "-c", ARRAYS, keep], capture_output=True, text=True,
                              timeout=120, check=True)
        return int(done.stdout)

    assert faults("yes") < 0.05 * faults("no")
