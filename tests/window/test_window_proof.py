"""The page Proof: a job opened, each step led, refused without its ticks, values typed, signed."""

import shutil

import pytest
from places import ROOT
from PySide6.QtCore import Qt
from window_driver import PATIENCE_MS, connect, open_window, press

from bench.files.job_record import read_job
from bench.services.proof import proofs_of
from bench.wording.reasons import in_words


@pytest.fixture
def job(tmp_path):
    """A copy of the sample job, whose truth is in sample_sweeps/JOB.md."""
    folder = tmp_path / "job"
    shutil.copytree(ROOT / "sample_sweeps" / "job_with_a_loose_plug", folder)
    return folder


def settled(qtbot, page):
    qtbot.waitUntil(lambda: page.proofs is not None and not page.desk.busy, timeout=PATIENCE_MS)


def opened(qtbot, tmp_path, folder):
    """Return a window on the page Proof with that job, opened by typing its folder."""
    window = open_window(qtbot, tmp_path)
    window.go_to("proof")
    page = window.page
    page.bar.field.setFocus()
    qtbot.keyClicks(page.bar.field, str(folder))
    qtbot.keyClick(page.bar.field, Qt.Key.Key_Return)
    settled(qtbot, page)
    return window, page


def pick(qtbot, page, step):
    at = next(k for k in range(page.list.count())
              if page.list.item(k).data(Qt.ItemDataRole.UserRole).step == step)
    page.list.setCurrentRow(at)


def test_the_job_stands_as_on_the_command_line_and_its_failure_leads(qtbot, tmp_path, job):
    """States in words as judged by the service; what failed is the sentence; nothing starts yet."""
    window, page = opened(qtbot, tmp_path, job)
    found = {p.step: p.state for p in proofs_of(job).steps}
    told = [page.list.item(k).text() for k in range(page.list.count())]
    words = {"proved": "proved", "failed": "FAILED", "open": "open", "to do": "to do"}
    assert [t.rpartition(": ")[2] for t in told] == [words[s] for s in found.values()]
    assert window.step_bar.text.text().startswith("Do not drive, failed")
    assert page.step == "shake"
    assert window.step_bar.more.text().startswith(
        "Mend first: signal lead of track b, at the plug: remake it. Then: ")
    assert window.step_bar.action.text() == "Wire up"
    assert window.sidebar.buttons[7].state == "FAILED: leads and joints shaken"


def test_a_proof_is_refused_until_each_caution_is_ticked_and_then_recorded(qtbot, tmp_path, job):
    """Ticked one by one, led on the simulated car, judged, kept in the record, ticks taken back."""
    window, page = opened(qtbot, tmp_path, job)
    window.session.bench.speed = 60.0
    connect(qtbot, window, "simulated")
    qtbot.waitUntil(lambda: window.step_bar.action.text() == "Start this proof",
                    timeout=PATIENCE_MS)
    ticks = page.detail.cautions.ticks
    assert len(ticks) >= 3
    for tick in ticks:
        assert not window.step_bar.action.isEnabled()
        page.start()
        assert window.session.bench.link.state != "recording"
        page.detail_room.ensureWidgetVisible(tick)
        qtbot.mouseClick(tick.words, Qt.MouseButton.LeftButton)
    press(qtbot, window.step_bar.action)
    qtbot.waitUntil(lambda: page.prompt is not None and page.prompt.code == "shake",
                    timeout=PATIENCE_MS)
    assert page.stack.currentWidget() is page.live
    assert "Shake the signal lead of track a" in window.step_bar.text.text()
    qtbot.waitUntil(lambda: len(read_job(job).entries) > 6 and page.step != "shake"
                    and not page.desk.busy, timeout=PATIENCE_MS)
    assert read_job(job).last("shake").file == "shake-2.csv"
    assert page.proofs.of("shake").state == "proved"
    assert page.step == page.proofs.next_step.step
    pick(qtbot, page, "shake")
    assert not any(t.box.isChecked() for t in page.detail.cautions.ticks)


def test_values_are_typed_beside_the_issued_and_the_page_is_signed(qtbot, tmp_path, job):
    """A start nearer to rest is on the unsafe side and fails; as issued it is proved; a name."""
    window, page = opened(qtbot, tmp_path, job)
    pick(qtbot, page, "entered")
    values, button = page.detail.values, window.step_bar.action
    assert not button.isEnabled()
    issued = {f"{s.channel}.{s.name}": s.value for s in page.proofs.findings.settings}
    for low, state in ((0.02, "failed"), (0.0, "proved")):
        for name, field in values.fields.items():
            shown = issued[name] - (low if name == "a.start_of_travel" else 0.0)
            field.setFocus()
            qtbot.keyClicks(field, f"{shown:.3f}".replace(".", ","))
        first = values.said["a.start_of_travel"].text()
        assert ("unsafe side" in first) == (state == "failed")
        press(qtbot, button)
        qtbot.waitUntil(lambda state=state: not page.desk.busy
                        and page.proofs.of("entered").state == state, timeout=PATIENCE_MS)
        pick(qtbot, page, "entered")
    pick(qtbot, page, "signed")
    assert not button.isEnabled()
    assert "leads and joints shaken" in page.detail.signing.left.text()
    page.detail.signing.kind.setCurrentIndex(1)
    qtbot.keyClicks(page.detail.signing.by, "somebody")
    press(qtbot, button)
    qtbot.waitUntil(lambda: (job / "proof.html").exists() and not page.desk.busy,
                    timeout=PATIENCE_MS)
    # Printed, but with a failed proof on it nothing counts as signed (common practice, no source).
    assert page.proofs.of("signed").state == "open"
    assert "leads and joints shaken" in page.detail.state.text()
    assert "Do not drive" in (job / "proof.html").read_text()


def test_a_recording_that_a_power_cut_left_is_told_and_taken_in(qtbot, tmp_path, job):
    """A file beside the record counts for nothing until it is taken in."""
    shutil.copy(job / "shake.csv", job / "shake-2.csv")
    _, page = opened(qtbot, tmp_path, job)
    assert "shake-2.csv" in page.bar.note.text()
    press(qtbot, page.bar.take_in)
    qtbot.waitUntil(lambda: not page.bar.take_in.isVisible() and not page.desk.busy,
                    timeout=PATIENCE_MS)
    assert read_job(job).last("shake").file == "shake-2.csv"


def test_the_sweep_on_show_goes_by_the_warmth_that_its_job_measured(qtbot, tmp_path, job):
    """The job's sweep, and no other; its budget line is measured, and that is told (JOB.md)."""
    window, page = opened(qtbot, tmp_path, job)
    session = window.session
    for path, basis in ((job / "sweep.csv", "measured"), (
            ROOT / "sample_sweeps" / "synthetic_healthy_pair.csv", "assumed")):
        session.open(path)
        qtbot.waitUntil(lambda path=path: session.path == path, timeout=PATIENCE_MS)
        line = next(i for i in session.findings.dead_bands["a"].items if i.name == "temperature")
        assert line.basis == basis
        assert ("as measured in warm.csv" in in_words(line.why)) == (basis == "measured")
    assert page.proofs.findings.warmth.log == "warm.csv"
