"""One window for all tests of a file: to open one costs 0.7 s of processor time."""

import pytest
from window_driver import close_for_good, let_go, shared_window


@pytest.fixture(scope="module")
def window(request, qapp, tmp_path_factory):
    """A shown window, as large as the file's `WINDOW_SIZE` says, else as a small laptop's."""
    size = getattr(request.module, "WINDOW_SIZE", None)
    folder = tmp_path_factory.mktemp("window")
    made = shared_window(folder) if size is None else shared_window(folder, size)
    yield made
    close_for_good(made)


@pytest.fixture(autouse=True)
def _windows_let_go(qapp):
    """Whatever changes the look or the font would change it in every window ever opened."""
    yield
    let_go()
