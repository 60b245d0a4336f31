"""Qt must know before it loads that there is no screen; CI must not fail by the luck of a draw."""

import atexit
import os
import shutil
import signal
import sys
import tempfile

# Started in the background a shell ignores Ctrl-C for us, and every child would inherit that: those
# that are to be ended by it would wait for ever.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

os.environ["QT_QPA_PLATFORM"] = "offscreen"
# What is said of boards in a test is not to be found in the next, nor among the user's own.
os.environ["STILLPEDAL_SETTINGS"] = tempfile.mkdtemp(prefix="stillpedal-tests-")
# Before numpy loads. Where every core runs a test already, OpenBLAS' own threads wait for one
# another by spinning: reading a key-on log takes up to ten times as long.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# A process that may keep nothing compiles the whole house anew: a third of a verb's time, and two
# thirds of what it takes to collect these tests.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

import pytest
from asked_once import keep_answers
from hypothesis import settings
from recorded_sweeps import sound_file, worn_file

sys.dont_write_bytecode = False
keep_answers()
atexit.register(shutil.rmtree, os.environ["STILLPEDAL_SETTINGS"], True)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers(config):
    """`-n auto`: half as many workers again as cores.

    Boards, cables and windows live in real time, so that a third of the suite is spent waiting.
    """
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return int(os.environ.get("PYTEST_XDIST_AUTO_NUM_WORKERS") or cores + cores // 2)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Give each worker a stretch of whole files and let the idle steal from the others' ends.

    Dealt out one by one, every worker would make the fixtures of nearly every file.
    """
    if config.getvalue("dist") != "load":
        return None
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log)

# On a developer's machine hypothesis draws anew each time; what it finds becomes a test.
# No deadline of 200 ms for an example: it tells how busy the machine is.
settings.register_profile("own", deadline=None)
settings.register_profile("ci", derandomize=True, deadline=None)
settings.load_profile("ci" if os.environ.get("CI") else "own")


@pytest.fixture(scope="module")
def worn(tmp_path_factory):
    """The file of a pedal with lost contacts, in a folder of its own for each module."""
    return worn_file(tmp_path_factory.mktemp("recordings"))


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    """The file of a pedal with nothing wrong, in a folder of its own for each module."""
    return sound_file(tmp_path_factory.mktemp("recordings"))


@pytest.fixture
def plot_page(qtbot):
    """A page to draw plots on, held until the test ends: ownerless, Qt would delete the plots."""
    import pyqtgraph as pg

    page = pg.GraphicsLayoutWidget()
    qtbot.addWidget(page)
    yield page
    page.close()
