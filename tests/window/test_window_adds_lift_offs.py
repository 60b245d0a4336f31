"""Lift-offs are added to a sweep in the window too: two files are kept, a third has both.

No outside source: the promise is the project's own (docs/method_deadband.md).
"""

import pytest
from window_driver import (
    PATIENCE_MS,
    connect,
    open_window,
    press,
    served_pedal,
    start_sweep,
    wait_opened,
    wait_told,
)

from bench.acquisition.boards.pty_server import can_serve
from bench.files.recording_file import read_recording

pytestmark = pytest.mark.skipif(not can_serve(), reason="needs pseudo terminals")


def test_lift_offs_are_added_to_the_sweep_on_show(qtbot, tmp_path):
    window = open_window(qtbot, tmp_path)
    page = window.pages["sweep"]
    with served_pedal("healthy") as server:
        connect(qtbot, window, server.port)
        assert not page.adding.isVisibleTo(page)
        first = start_sweep(qtbot, window, cycles=3, quick=1)
        wait_opened(qtbot, window, first)
        window.go_to("sweep")
        assert page.adding.isVisibleTo(page)
        assert f"to {first.name}" in page.adding.text()
        page.adding.setChecked(True)
        link = window.session.bench.link
        qtbot.waitUntil(lambda: page.next_step().label == "Start the sweep",
                        timeout=PATIENCE_MS)
        press(qtbot, window.step_bar.action)
        qtbot.waitUntil(lambda: link.guide is not None, timeout=PATIENCE_MS)
        # Its plan is lift-offs alone; stopping early keeps what came.
        assert {p.quick for p in link.guide.plan.prompts if p.kind == "press"} == {True}
        qtbot.waitUntil(lambda: link.guide.elapsed_s > 12.0, timeout=PATIENCE_MS)
        press(qtbot, page.keep_button)
        wait_told(qtbot, window, "and the lift-offs together")
    both = first.with_name(f"{first.stem}-more.csv")
    wait_opened(qtbot, window, both)
    joined = read_recording(both)
    assert joined.rows > read_recording(first).rows
    assert joined.extra["joined"]["first"] == first.name
    assert len(list(first.parent.glob("sweep-*.csv"))) == 3
