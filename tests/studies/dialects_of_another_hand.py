"""One log of two tracks, written in the ways of another hand, for second_dialects.py.

pandas' writers with their options, workbooks by openpyxl (where it is installed; else they are left
out), what spreadsheets of other tongues save, loggers with sections above their table, serial
monitors, several files of one log and MDF.
"""

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

COUNT = 600
SECONDS = np.arange(COUNT) * 0.01
PRESS = np.clip(1.4 * np.sin(SECONDS * 2.1), 0.0, 1.0)
FIRST = np.round(0.612 + 3.311 * PRESS + 0.002 * (np.arange(COUNT) % 2), 3)
SECOND = np.round(0.305 + 1.658 * PRESS + 0.001 * (np.arange(COUNT) % 3), 3)
START = datetime.datetime(2026, 3, 5, 14, 58, 7)
WHEN = [START + datetime.timedelta(seconds=float(s)) for s in SECONDS]
FRAME = pd.DataFrame({"Time (s)": SECONDS, "CH1 (V)": FIRST, "CH2 (V)": SECOND})
MADE = {}


@dataclass(frozen=True)
class Dialect:
    """Hold one way to write the log.

    write: takes a path; returns bytes for it, a list of the files it wrote, or None where it wrote
    to the path itself. due: "right", "asked", or "either" where two careful readers would differ,
    or one line helps over a rare dialect. options: of the import.
    """

    write: Callable[[Path], bytes | list[Path] | None]
    due: str
    ending: str
    options: dict[str, object]


def keep(name, write, due="right", ending="csv", **options):
    """Keep a dialect by its name."""
    MADE[name] = Dialect(write, due, ending, options)


def add(name, text, due="right", encoding="utf-8", **options):
    """Keep a finished text."""
    keep(name, lambda path: text.encode(encoding), due, **options)


def table(rows, sep=",", head=None, end="\n"):
    """Return rows of texts as one text."""
    lines = ([sep.join(head)] if head else []) + [sep.join(row) for row in rows]
    return end.join(lines) + end


def comma(number, places=3):
    """Return a number with a decimal comma."""
    return f"{number:.{places}f}".replace(".", ",")


def by(form_t, form_v):
    """Return rows with these formats of time and volts."""
    return [(form_t(t), form_v(a), form_v(b))
            for t, a, b in zip(SECONDS, FIRST, SECOND, strict=True)]


PLAIN = by(lambda t: f"{t:.2f}", lambda v: f"{v:.3f}")
HEAD = ("Time (s)", "CH1 (V)", "CH2 (V)")


def pandas_ways():
    """Register what DataFrame.to_csv writes with its options."""
    ways = {
        "plain": {"index": False}, "index": {}, "tab": {"index": False, "sep": "\t"},
        "semicolon": {"index": False, "sep": ";"},
        "german": {"index": False, "sep": ";", "decimal": ","},
        "tab comma": {"index": False, "sep": "\t", "decimal": ","},
        "quote all": {"index": False, "quoting": 1}, "quote text": {"index": False, "quoting": 2},
        "quote all comma": {"index": False, "quoting": 1, "decimal": ","},
        "bar": {"index": False, "sep": "|"}, "crlf": {"index": False, "lineterminator": "\r\n"},
        "bom": {"index": False, "encoding": "utf-8-sig"},
        "utf-16": {"index": False, "encoding": "utf-16"},
        "utf-16 little, no mark": {"index": False, "encoding": "utf-16-le"},
        "utf-16 big": {"index": False, "encoding": "utf-16-be"},
        "six decimals": {"index": False, "float_format": "%.6f"},
        "exponent": {"index": False, "float_format": "%.6e"},
        "short": {"index": False, "float_format": "%.4g"},
        "space": {"index": False, "sep": " ", "quoting": 2}, "latin": {"index": False,
                                                                      "encoding": "latin-1"},
    }
    for name, options in ways.items():
        keep(f"pandas {name}", lambda path, o=options: FRAME.to_csv(path, **o))
    keep("pandas single quote", lambda path: FRAME.to_csv(
        path, index=False, quoting=1, quotechar="'"), "either")
    stamped = FRAME.drop(columns="Time (s)").set_index(pd.DatetimeIndex(WHEN, name="time"))
    for name, options in {"stamps": {}, "stamps german": {"sep": ";", "decimal": ","},
                          "stamps iso": {"date_format": "%Y-%m-%dT%H:%M:%S.%fZ"},
                          "stamps of the day": {"date_format": "%H:%M:%S.%f"},
                          "stamps german date": {"date_format": "%d.%m.%Y %H:%M:%S.%f", "sep": ";",
                                                     "decimal": ","},
                          "stamps year last": {"date_format": "%m/%d/%Y %H:%M:%S.%f"}}.items():
        keep(f"pandas {name}", lambda path, o=options: stamped.to_csv(path, **o))
    zone = stamped.tz_localize("Europe/Berlin")
    keep("pandas stamps with a zone", lambda path: zone.to_csv(path))
    delta = FRAME.assign(**{"Time (s)": pd.to_timedelta(SECONDS, unit="s")}).rename(
        columns={"Time (s)": "elapsed"})
    keep("pandas timedelta", lambda path: delta.to_csv(path, index=False), "either")
    long = FRAME.melt("Time (s)", var_name="channel", value_name="value")
    keep("pandas long, by channel", lambda path: long.to_csv(path, index=False))
    keep("pandas long, by time", lambda path: long.sort_values(
        "Time (s)", kind="stable").to_csv(path, index=False))
    two = FRAME.copy()
    two.columns = pd.MultiIndex.from_tuples([("time", "s"), ("pot a", "V"), ("pot b", "V")])
    keep("pandas two rows of names", lambda path: two.to_csv(path, index=False))
    holes = FRAME.copy()
    holes.iloc[100:103, 1] = np.nan
    for mark in ("", "NaN", "NA", "#N/A", "-"):
        keep(f"pandas holes {mark!r}", lambda path, m=mark: holes.to_csv(
            path, index=False, na_rep=m))
    keep("pandas no names", lambda path: FRAME.to_csv(path, index=False, header=False), unit="V")
    millis = FRAME.assign(**{"Time (s)": np.arange(COUNT) * 10}).rename(
        columns={"Time (s)": "millis"})
    keep("pandas millis", lambda path: millis.to_csv(path, index=False))
    micros = FRAME.assign(**{"Time (s)": np.arange(COUNT) * 10_000 + 4_294_000_000}).rename(
        columns={"Time (s)": "micros"})
    micros["micros"] %= 2**32
    keep("pandas micros that wrap", lambda path: micros.to_csv(path, index=False))
    epoch = FRAME.assign(**{"Time (s)": 1_772_719_087.0 + SECONDS}).rename(
        columns={"Time (s)": "unix"})
    keep("pandas epoch", lambda path: epoch.to_csv(path, index=False), "either")
    in_mv = pd.DataFrame({"t_s": SECONDS, "a_mV": FIRST * 1e3, "b_mV": SECOND * 1e3}).round(3)
    keep("pandas a_mV", lambda path: in_mv.to_csv(path, index=False))
    keep("pandas percent", lambda path: pd.DataFrame({
        "t_s": SECONDS, "a_%": PRESS * 100, "b_%": PRESS * 99}).to_csv(path, index=False), "asked")
    keep("pandas json lines", lambda path: FRAME.rename(columns={
        "Time (s)": "t", "CH1 (V)": "a", "CH2 (V)": "b"}).to_json(
            path, orient="records", lines=True), "either")


def sheets_of_other_tongues():
    """Register what spreadsheets save as text."""
    german = by(lambda t: comma(t, 2), comma)
    add("german sheet", table(german, ";", ("Zeit [s]", "Poti 1 [V]", "Poti 2 [V]"), "\r\n"),
        encoding="cp1252")
    add("german sheet, sep line", "sep=;\r\n" + table(german, ";", HEAD, "\r\n"))
    add("german sheet, empty columns", table([(*r, "", "", "") for r in german], ";",
                                             (*HEAD, "", "", "")))
    add("german sheet, title and blank lines", "Messung 5. März;;\n;;\n;;\n"
        + table(german, ";", HEAD), encoding="utf-8-sig")
    add("german sheet, mean below", table(german, ";", HEAD)
        + f";{comma(FIRST.mean())};{comma(SECOND.mean())}\n")
    add("german clock", table([(w.strftime("%d.%m.%Y %H:%M:%S,") + f"{w.microsecond // 1000:03d}",
                                comma(a), comma(b)) for w, a, b in zip(WHEN, FIRST, SECOND,
                                                                       strict=True)], ";",
                              ("Datum/Uhrzeit", "Kanal 1 (V)", "Kanal 2 (V)")))
    add("french sheet", table(by(lambda t: comma(t, 2), comma), ";",
                              ("Temps (s)", "Voie 1 (V)", "Voie 2 (V)")), encoding="cp1252")
    add("italian mV with points", table(
        [(comma(t, 2), f"{a * 1e3:,.0f}".replace(",", "."), f"{b * 1e3:,.0f}".replace(",", "."))
         for t, a, b in zip(SECONDS, FIRST, SECOND, strict=True)], ";",
        ("Tempo (s)", "CH1 (mV)", "CH2 (mV)")))
    add("english mV with commas", table(
        [(f"{t:.2f}", f'"{a * 1e3:,.0f}"', f'"{b * 1e3:,.0f}"')
         for t, a, b in zip(SECONDS, FIRST, SECOND, strict=True)], ",",
        ("Time (s)", "CH1 (mV)", "CH2 (mV)")))
    add("swiss mV with apostrophes", table(
        [(f"{t:.2f}", f"{a * 1e3:,.0f}".replace(",", "'"), f"{b * 1e3:,.0f}".replace(",", "'"))
         for t, a, b in zip(SECONDS, FIRST, SECOND, strict=True)], ";",
        ("Zeit (s)", "CH1 (mV)", "CH2 (mV)")))
    add("swedish mV with hard spaces", table(
        [(comma(t, 2), f"{a * 1e3:,.0f}".replace(",", "\u00a0"),
          f"{b * 1e3:,.0f}".replace(",", "\u00a0"))
         for t, a, b in zip(SECONDS, FIRST, SECOND, strict=True)], "\t",
        ("Tid (s)", "CH1 (mV)", "CH2 (mV)")), "either")
    serial = [46086.0 + (w - datetime.datetime(2026, 3, 5)).total_seconds() / 86400 for w in WHEN]
    add("days of a sheet", table([(f"{d:.9f}", f"{a:.3f}", f"{b:.3f}") for d, a, b in
                                  zip(serial, FIRST, SECOND, strict=True)], ",",
                                 ("Date", "CH1 (V)", "CH2 (V)")))
    add("days of a sheet, decimal comma", table([(comma(d, 9), comma(a), comma(b)) for d, a, b in
                                                 zip(serial, FIRST, SECOND, strict=True)], ";",
                                                ("Datum", "CH1 (V)", "CH2 (V)")), "either")
    add("units in the cells", table(by(lambda t: f"{t:.2f} s", lambda v: f"{v:.3f} V"), ",",
                                    ("time", "ch1", "ch2")))
    add("units in the cells, no blank", table(by(lambda t: f"{t * 1e3:.0f}ms",
                                                 lambda v: f"{v * 1e3:.0f}mV"), ",",
                                              ("time", "ch1", "ch2")))
    add("counts", table([(f"{t:.2f}", f"{a / 5 * 1023:.0f}", f"{b / 5 * 1023:.0f}") for t, a, b in
                         zip(SECONDS, FIRST, SECOND, strict=True)], ",", ("t_s", "A0", "A1")),
        "asked")
    add("a sign that may be either", table(
        [(f"{t:.2f}", f"{a:.3f}".replace(".", ","), f"{b:.3f}".replace(".", ",")) for t, a, b in
         zip(SECONDS, FIRST, SECOND, strict=True)], ";", ("t", "a", "b")), "either")
    am = [w.strftime("%m/%d/%Y %I:%M:%S.%f")[:-3] + w.strftime(" %p") for w in WHEN]
    add("american clock", table([(w, f"{a:.3f}", f"{b:.3f}") for w, a, b in
                                 zip(am, FIRST, SECOND, strict=True)], ",",
                                ("Timestamp", "CH1 (V)", "CH2 (V)")))
    add("date and clock apart", table(
        [(w.strftime("%Y-%m-%d"), w.strftime("%H:%M:%S.%f")[:-3], f"{a:.3f}", f"{b:.3f}")
         for w, a, b in zip(WHEN, FIRST, SECOND, strict=True)], ",",
        ("Date", "Time", "CH1 (V)", "CH2 (V)")))
    add("clock of whole seconds", table(
        [(w.strftime("%H:%M:%S"), f"{a:.3f}", f"{b:.3f}") for w, a, b in
         zip(WHEN, FIRST, SECOND, strict=True)], ",", ("Time", "CH1 (V)", "CH2 (V)")), "either")
    add("clock of whole seconds beside elapsed ms", table(
        [(w.strftime("%H:%M:%S"), f"{t * 1e3:.0f}", f"{a:.3f}", f"{b:.3f}") for w, t, a, b in
         zip(WHEN, SECONDS, FIRST, SECOND, strict=True)], ",",
        ("Time", "Elapsed (ms)", "CH1 (V)", "CH2 (V)")), "either")
    add("past midnight", table(
        [((datetime.datetime(2026, 3, 5, 23, 59, 57) + datetime.timedelta(seconds=float(t)))
          .strftime("%H:%M:%S.%f")[:-4], f"{a:.3f}", f"{b:.3f}") for t, a, b in
         zip(SECONDS, FIRST, SECOND, strict=True)], ",", ("Time", "CH1 (V)", "CH2 (V)")))


def loggers():
    """Register what loggers and scopes put round their table."""
    body = table(PLAIN, ",", HEAD)
    add("sections above", "[Header]\nLogger,our own\nRate,100 Hz\n[Channels]\n"
        "1,CH1,V,5\n2,CH2,V,5\n[Data]\n" + body)
    for sign in ("#", "%", "//", "!", "'", "--"):
        add(f"comments {sign}", f"{sign} logger of our own\n{sign} rate: 100 Hz\n" + body
            + f"{sign} end\n", "right" if sign in "#%//!" else "either")
    add("comments among the rows", body.replace("\n1.00,", "\n# door opened\n1.00,"))
    add("keys above", "Logger=our own\nSampleInterval=0.01\nSource=CH1,CH2\n\n" + body)
    add("names with units below", "Time,Channel 1,Channel 2\ns,V,V\n" + table(PLAIN))
    add("names with units below in brackets", "Time,Channel 1,Channel 2\n(s),(V),(V)\n"
        + table(PLAIN))
    add("names, units, blank", "Time\tCH1\tCH2\n[s]\t[V]\t[V]\n\n" + table(PLAIN, "\t"))
    add("units after a slash", table(PLAIN, ",", ("Time / s", "U1 / V", "U2 / V")))
    add("units after a comma", table(PLAIN, ";", ("Time, s", "U1, V", "U2, V")))
    add("scale in the unit row", "Time,CH1,CH2\nms,mV,mV\n" + table(by(
        lambda t: f"{t * 1e3:.1f}", lambda v: f"{v * 1e3:.1f}")))
    add("names again every 100 rows", "".join(
        table(PLAIN[k:k + 100], ",", HEAD) for k in range(0, COUNT, 100)))
    add("footer", body + "\nEnd of record\nRows: 600\n")
    add("footer of counts", body + "Total,600,\n")
    add("status column", table([(*r, "OK") for r in PLAIN], ",", (*HEAD, "Status")))
    add("number of the row first", table([(str(k), *r) for k, r in enumerate(PLAIN, 1)], ",",
                                         ("No.", *HEAD)))
    add("two value columns and no time", table([r[1:] for r in PLAIN], ",", HEAD[1:]), "asked")
    add("two value columns, rate given", table([r[1:] for r in PLAIN], ",", HEAD[1:]), rate_hz=100)
    add("supply beside", table([(*r, "5.02") for r in PLAIN], ",", (*HEAD, "Supply (V)")))
    add("temperature beside", table([(*r, "21.5") for r in PLAIN], ",", (*HEAD, "Temp (C)")))
    add("four channels, two flat", table([(*r, "0.001", "0.002") for r in PLAIN], ",",
                                         (*HEAD, "CH3 (V)", "CH4 (V)")), "either")
    add("fixed width", "".join(f"{r[0]:>10}{r[1]:>12}{r[2]:>12}\n" for r in (
        ("t[s]", "a[V]", "b[V]"), *PLAIN)))
    add("blanks round the commas", table([tuple(f" {c} " for c in r) for r in PLAIN], ",", HEAD))
    add("plus signs", table(by(lambda t: f"{t:+.2f}", lambda v: f"{v:+.3f}"), ",", HEAD))
    add("exponent with decimal comma", table(by(lambda t: f"{t:.4E}".replace(".", ","),
                                                lambda v: f"{v:.4E}".replace(".", ",")), ";",
                                             HEAD))
    add("exponent without a sign", table(by(lambda t: f"{t:.4e}".replace("e+0", "e").replace(
        "e-0", "e-"), lambda v: f"{v:.4e}".replace("e+0", "e").replace("e-0", "e-")), ",", HEAD))
    add("time before zero", table([(f"{t - 1:.2f}", a, b) for t, (_, a, b) in
                                   zip(SECONDS, PLAIN, strict=True)], ",", HEAD))
    add("old mac lines", table(PLAIN, ",", HEAD, "\r"))
    add("comma at the end", table([(*r, "") for r in PLAIN], ",", (*HEAD, "")))
    add("comma at the end of rows only", ",".join(HEAD) + "\n" + table([(*r, "") for r in PLAIN]))
    add("last row torn", body[:-9])
    add("first row torn", ",".join(HEAD) + "\n3,1\n" + table(PLAIN), "either")
    add("zero bytes at the end", body + "\0" * 64, "either")
    add("odd dash for minus", table([(*r, "\u22120.5") for r in PLAIN], ",",
                                    (*HEAD, "CH3 (V)")), "either")
    add("micro sign", table(by(lambda t: f"{t * 1e6:.0f}", lambda v: f"{v:.3f}"), ",",
                            ("Time (\u00b5s)", "CH1 (V)", "CH2 (V)")), encoding="cp1252")
    add("long by hand", "".join(f"{t:.2f};{n};{comma(v)};V\n" for t, a, b in
                                zip(SECONDS, FIRST, SECOND, strict=True)
                                for n, v in (("poti a", a), ("poti b", b))), "either")
    add("long with names", "time;channel;value;unit\n" + "".join(
        f"{comma(t, 2)};{n};{comma(v)};V\n" for t, a, b in
        zip(SECONDS, FIRST, SECOND, strict=True) for n, v in (("poti a", a), ("poti b", b))))
    add("long in mV and ms", "ms,signal,mV\n" + "".join(
        f"{t * 1e3:.0f},{n},{v * 1e3:.0f}\n" for t, a, b in
        zip(SECONDS, FIRST, SECOND, strict=True) for n, v in (("a", a), ("b", b))), "either")
    add("two runs", body + table(PLAIN), "asked")
    add("unit of the heading against the cells", table(
        [(t, f"{float(a):.3f} mV", b) for t, a, b in PLAIN], ",", HEAD))
    many = {f"CH{k} (V)": FIRST if k == 3 else SECOND if k == 7 else np.full(COUNT, 0.1 * k)
            for k in range(1, 9)}
    keep("eight channels, two move", lambda path: pd.DataFrame(
        {"Time (s)": SECONDS, **many}).to_csv(path, index=False), "either")


def monitors():
    """Register what a serial monitor or a terminal keeps."""
    for name, form in {
            "monitor a:b:": "a:{a:.3f} b:{b:.3f} t:{t:.2f}",
            "monitor equals": "t={t:.2f}, a={a:.3f}, b={b:.3f}",
            "monitor tabs": "t:{t:.2f}\ta:{a:.3f}\tb:{b:.3f}",
            "monitor units": "t={t:.2f}s a={a:.3f}V b={b:.3f}V",
            "monitor ms": "ms:{ms:.0f} a:{a:.3f} b:{b:.3f}"}.items():
        add(name, "".join(form.format(t=t, ms=t * 1e3, a=a, b=b) + "\n" for t, a, b in
                          zip(SECONDS, FIRST, SECOND, strict=True)), unit="V")
    stamp = [w.strftime("%H:%M:%S.%f")[:-3] for w in WHEN]
    add("monitor arrow", "".join(f"{s} -> {a:.3f},{b:.3f}\n" for s, a, b in
                                 zip(stamp, FIRST, SECOND, strict=True)), unit="V")
    add("monitor brackets", "".join(f"[{s}] a:{a:.3f} b:{b:.3f}\n" for s, a, b in
                                    zip(stamp, FIRST, SECOND, strict=True)), unit="V")
    add("monitor with a greeting", "ready\ncalibrating...\n" + "".join(
        f"ms:{t * 1e3:.0f} a:{a:.3f} b:{b:.3f}\n" for t, a, b in
        zip(SECONDS, FIRST, SECOND, strict=True)), unit="V")


def several_files():
    """Register logs that were cut into files."""
    for name, order in {"two parts": (0, 1), "two parts, the later first": (1, 0)}.items():
        def write(path, order=order):
            parts = [FRAME.iloc[:300], FRAME.iloc[300:]]
            files = [path.with_name(f"{path.stem}_{k}.csv") for k in range(2)]
            for part, file in zip(parts, files, strict=True):
                part.to_csv(file, index=False)
            return [files[k] for k in order]
        keep(name, write)

    def overlap(path):
        files = [path.with_name(f"{path.stem}_{k}.csv") for k in range(2)]
        FRAME.iloc[:320].to_csv(files[0], index=False)
        FRAME.iloc[300:].to_csv(files[1], index=False)
        return files
    keep("two parts that overlap", overlap, "either")

    def other(path):
        files = [path.with_name(f"{path.stem}_{k}.csv") for k in range(2)]
        FRAME.iloc[:300].to_csv(files[0], index=False)
        FRAME.iloc[300:].rename(columns={"CH2 (V)": "CH9 (V)"}).to_csv(files[1], index=False)
        return files
    keep("two parts of other columns", other, "asked")


def workbooks():
    """Register workbooks; nothing where openpyxl is not installed."""
    try:
        import openpyxl
    except ImportError:
        return
    ways = {"plain": {}, "index": {"index": True}, "three rows down": {"startrow": 3},
            "two columns in": {"startcol": 2}, "frozen": {"freeze_panes": (1, 1)}}
    for name, options in ways.items():
        keep(f"workbook {name}", lambda path, o={"index": False, **options}: FRAME.to_excel(
            path, **o), ending="xlsx")
    stamped = FRAME.drop(columns="Time (s)").set_index(pd.DatetimeIndex(WHEN, name="when"))
    keep("workbook stamps", lambda path: stamped.to_excel(path), "either", "xlsx")

    def by_hand(path, change):
        book = openpyxl.Workbook()
        sheet = book.active
        change(book, sheet)
        book.save(path)

    def titled(book, sheet):
        sheet.append(["Throttle pedal, bench"])
        sheet.merge_cells("A1:C1")
        sheet.append([])
        sheet.append(list(HEAD))
        for row in zip(SECONDS, FIRST, SECOND, strict=True):
            sheet.append([float(v) for v in row])

    def texts(book, sheet):
        sheet.append(list(HEAD))
        for t, a, b in PLAIN:
            sheet.append([t.replace(".", ","), a.replace(".", ","), b.replace(".", ",")])

    def second_sheet(book, sheet):
        titled(book, sheet)
        book.create_sheet("notes").append(["nothing here"])

    def clocks(book, sheet):
        sheet.append(["Time", "CH1 (V)", "CH2 (V)"])
        for w, a, b in zip(WHEN, FIRST, SECOND, strict=True):
            sheet.append([w, float(a), float(b)])

    def units_below(book, sheet):
        sheet.append(["time", "pot a", "pot b"])
        sheet.append(["ms", "mV", "mV"])
        for t, a, b in zip(SECONDS, FIRST, SECOND, strict=True):
            sheet.append([float(t * 1e3), float(a * 1e3), float(b * 1e3)])

    def formulas(book, sheet):
        titled(book, sheet)
        sheet.append(["mean", "=AVERAGE(B4:B603)", "=AVERAGE(C4:C603)"])
    for name, change, due in (
            ("title", titled, "right"), ("texts", texts, "asked"),
            ("second sheet", second_sheet, "right"), ("clocks", clocks, "right"),
            ("units below", units_below, "right"), ("formulas", formulas, "right")):
        keep(f"workbook {name}", lambda path, c=change: by_hand(path, c), due, "xlsx")


def measurement_files():
    """Register MDF files; nothing where asammdf is not installed."""
    try:
        from asammdf import MDF, Signal
    except ImportError:
        return

    def write(path, version, groups, unit="V", factor=1.0):
        file = MDF(version=version)
        signals = [Signal(values * factor, SECONDS, name=name, unit=unit)
                   for name, values in (("pot_a", FIRST), ("pot_b", SECOND))]
        if groups == 1:
            file.append(signals)
        else:
            for signal in signals:
                file.append([signal])
        file.save(path, overwrite=True)
    for name, options in {"one group": ("4.10", 1), "two groups": ("4.10", 2),
                          "4.11": ("4.11", 1), "mV": ("4.10", 1, "mV", 1e3)}.items():
        keep(f"MDF {name}", lambda path, o=options: write(path, *o), ending="mf4")


def all_dialects():
    """Return every dialect by its name."""
    for make in (pandas_ways, sheets_of_other_tongues, loggers, monitors, several_files,
                 workbooks, measurement_files):
        make()
    return MADE
