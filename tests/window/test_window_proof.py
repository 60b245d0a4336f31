"""The page Proof: a job opened, each step led, refused without its ticks, values typed, signed."""

import shutil
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from places import ROOT
from PySide6.QtCore import Qt
from window_driver import PATIENCE_MS, connect, link_is, open_window, press

from bench.files.job_record import read_job
from bench.services.findings import open_findings
from bench.services.proof import proofs_of
from bench.window.job_desk import JobDesk
from bench.wording.face import small
from bench.wording.pages import proof as words
from bench.wording.pages import shared
from bench.wording.proof import damaged_words
from bench.wording.reasons import in_words

JOB = ROOT / "sample_sweeps" / "job_with_a_loose_plug"


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


@pytest.fixture
def page(qtbot, window):
    """The page Proof of the file's one window, with the sample job that was open last time.

    As `proofs_of` judges it, whatever the test before put there.
    """
    window.session.stop_asking()
    window.notice.hide()
    window.session.preferences.setValue("proof/folder", str(JOB))
    window.go_to("proof")
    page = window.page
    qtbot.waitUntil(lambda: page.proofs is not None and not page.desk.busy, timeout=PATIENCE_MS)
    page.desk.proofs = proofs_of(JOB)
    page.desk.judged.emit("")
    return page


def put(page, **changes):
    """Put the job on the desk with some of it changed."""
    page.desk.proofs = replace(page.desk.proofs, **changes)
    page.desk.judged.emit("")


def test_the_job_of_last_time_is_read_again_when_something_of_it_changed(page, monkeypatch):
    """Its folder stands in the field; a parameter or a file that is another is judged anew."""
    assert page.bar.field.text() == str(JOB)
    assert page.desk.folder == JOB
    read = []
    monkeypatch.setattr(page.desk, "read", lambda: read.append(page.desk.folder))
    page.shown()
    assert read == []
    monkeypatch.setattr(type(page.desk), "stale", True)
    page.shown()
    assert read == [JOB]


def test_what_keeps_a_proof_from_starting_is_said(window, page, monkeypatch):
    """Another recording, a board just opened, inputs of last time or of another pedal."""
    bench = window.session.bench
    channels = page.proofs.findings.recording.channels
    pick(None, page, "shake")
    monkeypatch.setattr(bench, "board_name", "/dev/ttyX")
    for what, more, action in (
            ({"state": "recording", "purpose": "sweep"}, words.OTHER_RECORDING, ""),
            ({"state": "opening"}, shared.OPENING, ""),
            ({"state": "idle"}, words.CONNECT, "wire up")):
        link_is(window, monkeypatch, **what)
        assert page.next_step().more.endswith(small(more))
        assert page.next_step().action == action
        page.act()
        assert window.page is (page if not action else window.pages["wire_up"])
    window.go_to("proof")
    link_is(window, monkeypatch, state="live")
    bench.edits.begin((channels[0], replace(channels[1], role="other", column="power")))
    monkeypatch.setattr(type(bench), "unchecked", True)
    assert page.next_step().more.endswith(small(words.INPUTS_FIRST))
    monkeypatch.setattr(type(bench), "unchecked", False)
    assert page.next_step().more.endswith(small(words.missing_inputs(("b",))))
    # What is no track, supply or key may show power.
    power = page.detail.setup.power
    assert [power.itemText(k) for k in range(1, power.count())] == ["power"]
    bench.edits.begin(())


def test_a_proof_that_runs_is_led_by_the_person_who_does_it(window, page, monkeypatch):
    """Its button goes on, power is said with two buttons; the cable out is told, nothing lost."""
    told = []
    lead = SimpleNamespace(enter=lambda word="": told.append(word), place=0, left_s=None,
                           since_s=1.0, prompts=())
    pick(None, page, "wires")
    prompt = next(p for p in page.detail.setup.asked.prompts if p.seconds is None)
    monkeypatch.setattr(window.session.bench, "board_name", "/dev/ttyX")
    monkeypatch.setattr(page, "prompt", prompt)
    link_is(window, monkeypatch, state="recording", purpose="proof", lead=None)
    assert page.next_step().text == shared.WAITING
    page.act()
    page.live.begin((prompt,), True)
    page.live.stays.click()
    assert told == []
    assert page.live.noted.text() == ""
    link_is(window, monkeypatch, lead=lead)
    page.act()
    page.live.stays.click()
    assert len(told) == 2
    assert page.live.noted.text()
    link_is(window, monkeypatch, lost=True)
    assert page.next_step().text == shared.LOST
    assert page.next_step().more == words.NOTHING_LOST
    assert page.status() == ("cable is out", False)


def test_stopping_a_proof_is_asked_about_when_it_has_only_just_begun(window, page, monkeypatch):
    """A press by mistake ends nothing; later one press does."""
    stopped = []
    monkeypatch.setattr(page.link, "stop", lambda: stopped.append(1))
    page.live.begin((), False)
    page.live.ask_stop()
    assert [a.text() for a in window.notice.answers] == ["Stop it", "Go on"]
    window.notice.answers[1].click()
    assert stopped == []
    monkeypatch.setattr("bench.window.proof_live_view.SOON_S", -1.0)
    page.live.ask_stop()
    assert stopped == [1]


@pytest.mark.parametrize(("step", "place"), [("sweep", "read"), ("key-on", "in_car")])
def test_a_file_of_the_job_opens_on_its_own_page(window, page, monkeypatch, step, place):
    """The sweep goes to Read, the log to In the car; both are the files of the record."""
    opened = []
    monkeypatch.setattr(window.session, "open",
                        lambda path, then: (opened.append(path), then()))
    entry = page.proofs.of("sweep").entry
    # The sample job has no log yet.
    put(page, steps=tuple(p if p.entry else replace(p, entry=entry, because=())
                          for p in page.proofs.steps))
    pick(None, page, step)
    assert page.next_step().action == "open job file"
    page.act()
    assert opened == [JOB / page.proofs.of(step).entry.file]
    assert window.page is window.pages[place]


def test_a_step_stays_picked_until_another_is(page):
    """Picked again, or nothing picked: what is ticked and typed stays."""
    pick(None, page, "shake")
    tick = page.detail.cautions.ticks[0]
    tick.box.setChecked(True)
    page.pick("shake")
    page.list.setCurrentRow(-1)
    assert page.step == "shake"
    assert page.detail.cautions.ticks[0].box.isChecked()
    pick(None, page, "signed")


def test_without_a_sweep_nothing_can_be_proved_or_typed_back(page):
    """A proof is judged by the limits of this pedal's sweep, and so are values: it comes first."""
    put(page, limits=None)
    for step in ("shake", "entered", "signed"):
        pick(None, page, step)
        assert page.next_step().action == ""
        assert "the sweep comes first" in page.next_step().more


def test_a_page_that_is_signed_is_not_signed_again_by_the_large_button(page):
    """Nothing was done since: there is no next step, and another is picked to do it again."""
    steps = tuple(replace(p, state="proved") if p.step == "signed" else p
                  for p in page.proofs.steps)
    put(page, steps=steps)
    pick(None, page, "signed")
    assert page.next_step().action == ""
    assert "signed" in page.next_step().more


def test_values_of_another_pedal_take_the_place_of_those_before(page):
    """One track in place of two: its two values, and no field of the other is left."""
    pick(None, page, "entered")
    values = page.detail.values
    assert {name.partition(".")[0] for name in values.fields} == {"a", "b"}
    page.act()
    assert not page.desk.busy
    put(page, findings=open_findings(ROOT / "sample_sweeps" / "synthetic_one_track.csv"))
    page.detail.show_step(page.proofs, "entered")
    assert {name.partition(".")[0] for name in values.fields} == {"a"}
    assert not values.ready


def test_with_no_job_on_the_desk_nothing_is_done(window):
    """No folder: nothing is read, taken in, kept or signed, and nothing is told as done."""
    desk, done = JobDesk(window.session), []
    desk.changed.connect(lambda: done.append(1))
    desk.read()
    desk.bring(Path("sweep.csv"))
    desk.take_unlisted("sweep.csv")
    desk.keep_values({"a": 1.0}, {"a": "1"}, 0.005)
    desk.sign("somebody", "a car", "pdf")
    assert not desk.busy
    assert done == []
    assert not desk.stale


def test_the_folder_of_a_job_is_chosen_or_made(window, page, tmp_path, monkeypatch):
    """Return in an empty field asks for it; cancelled, the job stays; one not there is offered."""
    asked, picked = [], ["", str(tmp_path)]
    monkeypatch.setattr("bench.window.job_bar.QFileDialog.getExistingDirectory",
                        lambda *_: picked.pop(0))
    page.bar.opened.disconnect()
    page.bar.opened.connect(asked.append)
    page.bar.field.setText("")
    page.bar.field.returnPressed.emit()
    assert asked == []
    page.bar.choose_button.click()
    assert asked == [tmp_path]
    page.bar.opened.disconnect()
    page.bar.opened.connect(page.open_job)
    page.bar.field.setText(str(tmp_path / "new"))
    page.bar.field.returnPressed.emit()
    assert window.notice.text.text() == words.make_it(str(tmp_path / "new"))
    window.notice.answers[1].click()
    assert not (tmp_path / "new").exists()


def test_a_record_with_damaged_lines_says_so(page):
    """Lines that do not count are told above the steps; there is nothing to take in."""
    put(page, unlisted=(), damaged=2)
    assert page.bar.note.text() == f"{damaged_words(2)}."
    assert not page.bar.take_in.isVisible()
