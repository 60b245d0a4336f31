"""Make the pictures of the window in docs/screenshots/, without a screen.

    python docs/make_screenshots.py [NAME ...]

Everything in them is simulated. It takes some two minutes: the sweep and the log in the car are
really recorded. With names only those pictures are made anew. None shows a path of this machine.
"""

import math
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

os.environ["QT_QPA_PLATFORM"] = "offscreen"

from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication

from analysis.pedal.findings import Findings
from analysis.simulation.car import Car, CarTrack, drive
from bench.files.recording_file import write_recording
from bench.window.app import application
from bench.window.main_window import MainWindow

HERE = Path(__file__).parent
PICTURES = HERE / "screenshots"
SAMPLES = HERE.parent / "sample_sweeps"
SIZE = (1360, 860)


def wait(seconds: float, until: Callable[[], bool] | None = None) -> None:
    """Let the window work for a time, or until something is so."""
    end = time.monotonic() + seconds
    while time.monotonic() < end and not (until is not None and until()):
        QApplication.processEvents()
        time.sleep(0.005)


class Camera:
    """Take pictures of one window."""

    def __init__(self, folder: Path, names: Sequence[str] = ()) -> None:
        application()
        self.names = names
        self.window = MainWindow(QSettings(str(folder / "w.ini"), QSettings.Format.IniFormat))
        self.window.resize(*SIZE)
        self.window.show()
        self.window.choose_look("light")
        # As the program does once it stands: the rail then says of every page where it stands.
        self.window.make_pages()
        wait(20, lambda: len(self.window.pages.made()) == len(self.window.pages))

    def take(self, name: str) -> None:
        """Save what the window shows, if that picture is wanted."""
        if self.names and name not in self.names:
            return
        self.window.notice.hide()
        desk = self.window.pages["read"].desk
        wait(10, lambda: self.window.page.key != "read" or all(
            view.plot.items for view in desk.views.values()))
        wait(0.4)
        path = PICTURES / f"{name}.png"
        if not self.window.grab().save(str(path)):
            raise OSError(f"cannot write {path}; choose another folder")
        print(path.relative_to(HERE.parent))

    def open(self, name: str) -> None:
        """Open a sample sweep."""
        path = SAMPLES / name
        self.window.session.open(path)
        wait(60, lambda: self.window.session.path == path)


def senders(window: MainWindow, folder: Path) -> None:
    """Check a simulated divider at five levels against a meter that shows 1 % more."""
    window.session.preferences.setValue("sweep/folder", str(folder))
    window.session.bench.speed = 4.0
    window.go_to("senders")
    page = window.pages["senders"]
    for name, text in (("top_ohms", "40k"), ("bottom_ohms", "10k"), ("highest_volts", "24")):
        page.fields.stated[name].setText(text)
    page.fields.limits.setText("0.5% + 2 digits")
    page.fields.tolerance.setText("2%")
    page.start()
    wait(20, lambda: page.meter is not None)
    for volts in (0.5, 1.5, 2.5, 3.5, 4.5):
        page.simulated_volts.setValue(volts)
        wait(1.5)
        page.typed.setText(f"{1.01 * 5.0 * volts:.2f}")
        page.add()
        wait(20, lambda: not page.work.busy)
    page.finish()
    wait(20, lambda: page.result is not None)
    window.notice.hide()


def without_paths(window: MainWindow) -> None:
    """Show folders of nobody on the page Keep."""
    page = window.pages["keep"]
    page.folder.setText("pedals")
    for row in range(page.recent.count()):
        name = page.recent.item(row).text().split("\n")[0]
        page.recent.item(row).setText(f"{name}\npedals")


def foreign_log(folder: Path) -> Path:
    """Write a log as an oscilloscope might, of a pedal with two tracks."""
    log = folder / "scope.csv"
    rows = [f"{k / 200:.3f};{0.75 + 3.5 * press:.4f};{0.76 + 3.5 * press:.4f};21.5"
            for k in range(4000)
            for press in (max(0.0, min(1.0, 1.6 * math.sin(k / 160.0))),)]
    log.write_text("\n".join(["t (s);CH1 (V);CH2 (V);room", *rows]) + "\n", encoding="utf-8")
    return log


def proof(camera: Camera, folder: Path) -> None:
    """Show the sample job with its loose plug, and the leads being shaken on the simulated car."""
    window, job = camera.window, folder / "my car"
    shutil.copytree(SAMPLES / "job_with_a_loose_plug", job)
    window.session.bench.speed = 1.0
    window.go_to("proof")
    page = window.pages["proof"]
    page.open_job(job)
    wait(60, lambda: page.proofs is not None and not page.desk.busy)
    window.notice.hide()
    page.bar.field.setText(job.name)
    camera.take("proof")
    for tick in page.detail.cautions.ticks:
        tick.box.setChecked(True)
    page.start()
    wait(20, lambda: page.prompt is not None and page.prompt.code == "shake")
    camera.take("proof-live")
    page.link.stop()
    wait(30, lambda: page.link.state != "recording" and not page.desk.busy)


def quiet_log(swept: Findings, folder: Path) -> Path:
    """Write a log, contactor closed, of a car that adds 8 mV, with the swept pedal in it."""
    tracks = tuple(CarTrack(n, t.rest.value, t.full.value) for n, t in swept.tracks.items())
    log = drive(Car(tracks=tracks, cycles=4, on_s=25.0, off_s=10.0, rate_hz=200.0,
                    ground_volts=0.008, ground_scatter_volts=0.0005))[0]
    path = folder / "key-on.csv"
    write_recording(path, replace(log, title="simulated car, contactor closed",
                                  extra={"contactor": "closed"}))
    return path


def in_the_car(camera: Camera) -> None:
    """Log the simulated car with the pedal of the sweep in it, up to its second key-on."""
    window = camera.window
    session, page = window.session, window.pages["in_car"]
    session.accept_car_cautions()
    page.log_again()
    wait(60, lambda: page.before.same.answer == "yes")
    page.contactor.buttons["closed"].click()
    camera.take("in-the-car-before")
    page.start()
    wait(60, lambda: page.watch is not None and page.watch.now.key_ons == 2)
    wait(6)
    camera.take("in-the-car-live")
    session.bench.link.stop()
    wait(60, lambda: session.bench.link.state != "recording" and not session.work.busy)


def main() -> int:
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as place:
        camera = Camera(Path(place), sys.argv[1:])
        window, session = camera.window, camera.window.session
        camera.take("cautions")
        session.accept_cautions()
        window.pages["wire_up"].board.setCurrentText("simulated")
        window.pages["wire_up"].connect_board()
        wait(20, lambda: session.bench.link.source is not None)
        wait(5)
        camera.take("wire-up")
        window.go_to("sweep")
        window.pages["sweep"].folder.setText(place)
        window.pages["sweep"].start()
        wait(20, lambda: session.bench.link.state == "recording")
        wait(17)
        camera.take("sweep")
        window.pages["sweep"].stop_and_keep()
        wait(20, lambda: session.findings is not None)
        camera.open("synthetic_wiper_dropouts.csv")
        window.notice.hide()
        window.go_to("read")
        read = window.pages["read"]
        read.sentences.setCurrentRow(2)
        read.sentences.toggle(read.sentences.item(2))
        camera.take("read")
        window.choose_look("dark")
        camera.take("read-dark")
        window.choose_look("light")
        camera.open("synthetic_off_at_rest.csv")
        window.notice.hide()
        session.open_before(SAMPLES / "synthetic_healthy_pair.csv")
        wait(30, lambda: session.before is not None)
        window.go_to("read")
        camera.take("before-and-after")
        session.take_before(None, None)
        window.go_to("decide")
        camera.take("decide")
        window.go_to("wire_up")
        wait(20, lambda: session.bench.link.source is not None)
        window.go_to("decide")
        window.pages["decide"].start_nulling()
        wait(1.2)
        camera.take("nulling")
        session.open_before(SAMPLES / "synthetic_healthy_pair.csv")
        wait(30, lambda: session.before is not None)
        window.go_to("keep")
        without_paths(window)
        camera.take("keep")
        keep = window.pages["keep"]
        keep.open_foreign(foreign_log(Path(place)))
        wait(20, lambda: keep.bring_in.found is not None)
        for column, row in ((1, 2), (2, 3)):
            keep.bring_in.table.parts[column].setCurrentIndex(row)
            keep.bring_in.table.parts[column].activated.emit(row)
            wait(1.0)
        window.step_bar.more.setText("")
        camera.take("import")
        keep.bring_in.done.emit()
        session.take_before(None, None)
        camera.open("synthetic_healthy_pair.csv")
        log = quiet_log(session.findings, Path(place))
        # The window goes to the page In the car by itself, and looks at the car there.
        session.bench.pedal = "healthy"
        session.open(log)
        wait(60, lambda: session.key_on_path == log)
        window.go_to("in_car")
        camera.take("in-the-car")
        in_the_car(camera)
        senders(window, Path(place))
        camera.take("senders")
        proof(camera, Path(place))
        window.close()
    return 0


if __name__ == "__main__":
    status = main()
    sys.stdout.flush()
    os._exit(status)
