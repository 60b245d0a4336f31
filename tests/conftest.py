"""Qt must know before it loads that there is no screen; CI must not fail by the luck of a draw."""

import os

import pytest
from hypothesis import settings
from window_sweeps import sound_file, worn_file

os.environ["QT_QPA_PLATFORM"] = "offscreen"

# On a developer's machine hypothesis draws anew each time; what it finds becomes a test.
settings.register_profile("ci", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("ci")


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
