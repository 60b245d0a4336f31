"""What cannot be done is said in one line with what to do instead, status 2, no traceback.

Each row is a call as a person could type it; the words are those that lead on.
"""

import subprocess
import zipfile

import pytest
from in_process import stillpedal
from places import ROOT

from bench.acquisition.boards.serial_board import SerialBoard
from bench.acquisition.boards.simulated import SimulatedPedalBoard
from bench.services.boards import tuned

SAMPLES = ROOT / "sample_sweeps"
HEALTHY = SAMPLES / "synthetic_healthy_pair.csv"
LOG = SAMPLES / "synthetic_key_on_quiet_car.csv"


def refused(*words) -> str:
    """Return the one line of a call that is refused with status 2."""
    done: subprocess.CompletedProcess[str] = stillpedal(*map(str, words))
    assert done.returncode == 2, done
    lines = done.stderr.strip().splitlines()
    assert not any("Traceback" in line for line in lines)
    return lines[-1]


@pytest.mark.parametrize(("words", "leads_on"), [
    ("boards --name me", "--name goes with --check PORT"),
    ("boards --check simulated --full-scale -5", "state a number above 0"),
    ("boards --check simulated --expect a", "--expect"),
    ("boards --check simulated --expect a=x", "--expect"),
    ("demo --speed 500", "--speed is 500; use 1 to 100"),
    ("meter --history --apply x.csv", "ask for one at a time"),
    ("meter --board simulated --from x.csv", "give either --board NAME"),
    ("meter --kind pilot", "--set duty_percent="),
    ("meter --kind oracle --from x.csv", "oracle"),
    ("meter --kind divider --set top_ohm=1 --from x.csv", "add them with your own values, such as"),
    ("meter --kind divider --set top_ohms=1M --set bottom_ohms=10k --set highest_volts=160"
     " --set colour=1 --from x.csv", "write for example --set"),
    ("meter --apply {healthy}", "--apply needs --channel NAME, or --calibration FILE"),
    ("meter --history", "--channel"),
    ("settings {healthy} --unit volts --bits 10", "--bits goes with --unit counts"),
    ("settings {healthy} --unit counts --bits 99", "--bits is 99; use 1 to 32"),
    ("sweep --board simulated --fast --presses 0 --out {new}", "--presses"),
    ("sweep --board simulated --fast --track-ohms -4 --out {new}", "track-ohms"),
    ("sweep --board simulated --fast --rheostat-known-ohms 4700 --out {new}",
     "of a two-wire rheostat"),
    ("sweep --board simulated --fast --add-to {log} --out {new}", "is no sweep with tracks"),
    ("sweep --board simulated --pedal nobody --out {new}", "nobody"),
    ("watch --board simulated --cycles 0 --out {new}", "--cycles"),
    ("watch --board simulated --fast --sweep {log} --out {new}", "is a key-on log and no sweep"),
    ("report {healthy} --out {folder}/x.doc", "a report ends in .pdf or .html"),
    ("report {healthy} --out {folder}/none/x.pdf", "none"),
    ("export {healthy} --format tape", "tape"),
    ("compare {healthy} {log}", "log"),
    ("prove {folder} --shown a.start_of_travel=1", "no sweep is in this job"),
    ("prove {folder} --shown a.start_of_travel=1 --shown-unit counts", "no sweep is in this job"),
    ("prove {folder} --add {healthy}", "job's folder"),
    ("trend {folder}", "holds no *.csv; name the folder"),
])
def test_a_call_that_cannot_be_done(words, leads_on, tmp_path):
    """The last line on the error stream; nothing is left behind."""
    (tmp_path / "job").mkdir()
    filled = words.format(healthy=HEALTHY, log=LOG, new=tmp_path / "new.csv",
                          folder=tmp_path / "job")
    assert leads_on in refused(*filled.split(" "))
    assert not (tmp_path / "new.csv").exists()


def workbook(path, parts):
    with zipfile.ZipFile(path, "w") as book:
        for name, text in parts.items():
            book.writestr(name, text)
    return path


SHEET = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


@pytest.mark.parametrize(("parts", "leads_on"), [
    ({"mimetype": "x"}, "no workbook; save the sheet as CSV"),
    ({"xl/workbook.xml": f'<workbook xmlns="{SHEET}"/>'}, "has no sheet"),
    ({"xl/workbook.xml": f'<!DOCTYPE x><workbook xmlns="{SHEET}"/>'}, "holds definitions"),
    ({"xl/workbook.xml": "<workbook"}, "CSV"),
])
def test_a_workbook_that_is_none(parts, leads_on, tmp_path):
    """ECMA-376 (Office Open XML) has a workbook part with its sheets, and no document type."""
    made = workbook(tmp_path / "log.xlsx", parts)
    assert leads_on in refused("import", made, "--out", tmp_path / "new.csv")


@pytest.mark.parametrize(("text", "leads_on"), [
    ("", "is empty"), ("%PDF-1.7\n", "is"), ("\0\0\0\0abc", "text"),
    ("time,a,b\n0,1,2\n", "at least"),
    ("time,a,b\n0,1,2\nx,1,2\ny,2,3\nz,3,4\n0.4,4,5\n", "time"),
    ("time,a,b\n10:00:00,1,2\nsoon,1,2\nlater,2,3\n10:00:03,3,4\n", "time"),
])
def test_a_log_that_cannot_be_taken_in(text, leads_on, tmp_path):
    """An empty one, a page, a program, one row, times that are none."""
    (tmp_path / "log.txt").write_text(text)
    assert leads_on in refused("import", tmp_path / "log.txt", "--out", tmp_path / "new.csv")
    assert not (tmp_path / "new.csv").exists()


@pytest.mark.parametrize(("zone", "stamp"), [
    ("Z", "+00:00"), ("+0200", "+02:00"), ("+02:00", "+02:00")])
def test_a_zone_is_kept_as_iso_8601_has_it(zone, stamp, tmp_path):
    """ISO 8601-1 allows Z, +hh:mm and the basic +hhmm; the header keeps the extended form."""
    rows = "".join(f"2026-03-01T10:00:{k:02d}{zone},{k % 3},{k % 5}\n" for k in range(30))
    (tmp_path / "log.csv").write_text("time,a_V,b_V\n" + rows)
    out = tmp_path / "new.csv"
    done = stillpedal("import", str(tmp_path / "log.csv"), "--out", str(out))
    assert done.returncode == 0, done.stderr
    assert f'started = "2026-03-01T10:00:00.000{stamp}"' in out.read_text()


@pytest.mark.parametrize(("dates", "day"), [
    (("13/01/2026", "13/01/2026"), "2026-01-13"), (("01/13/2026", "01/13/2026"), "2026-01-13"),
    (("01.02.2026", "01.02.2026"), "2026-02-01"), (("2026-02-01", "2026-02-01"), "2026-02-01")])
def test_a_day_beyond_twelve_tells_the_order(dates, day, tmp_path):
    """No month has that number; with points the day stands first (DIN 5008, from memory)."""
    rows = "".join(f"{dates[k // 15]} 10:00:{k:02d},{k % 3},{k % 5}\n" for k in range(30))
    (tmp_path / "log.csv").write_text("time,a_V,b_V\n" + rows)
    out = tmp_path / "new.csv"
    done = stillpedal("import", str(tmp_path / "log.csv"), "--out", str(out))
    assert done.returncode == 0, done.stderr
    assert f'started = "{day}T10:00:00' in out.read_text()


def test_only_a_serial_board_can_be_told_how_to_sample():
    """Another, and one that is asked for nothing, is handed back as it is."""
    plain, line = SimulatedPedalBoard("healthy"), SerialBoard("/dev/none")
    assert tuned(plain, rate_hz=500) is plain
    assert tuned(line) is line
    assert tuned(line, rate_hz=500) is not line
