"""One truth, two tracks for four seconds, in the dialects of scopes, loggers and scripts.

Every dialect is our own invention, written here from that truth.
"""

import numpy as np

ROWS = 800
T = np.arange(ROWS) * 0.005
A = np.round(0.6 + 3.6 * np.clip(np.sin(T * 1.5), 0, 1), 3)
B = np.round(0.3 + 0.5 * (A - 0.6), 3)


def comma(text: str) -> str:
    return text.replace(".", ",")


def clock(second: float, sign: str = ".", start: float = 33_243.0) -> str:
    whole = round((start + second) * 1000)
    hours, rest = divmod(whole, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    return f"{hours % 24:02d}:{minutes:02d}:{rest // 1000:02d}{sign}{rest % 1000:03d}"


def lines(*head: str, row, foot: tuple[str, ...] = (), end: str = "\n") -> str:
    body = [row(t, a, b) for t, a, b in zip(T, A, B, strict=True)]
    return end.join([*head, *body, *foot]) + end


def thousands(value: float, mark: str, decimal: str) -> str:
    return f"{value:,.1f}".replace(",", "_").replace(".", decimal).replace("_", mark)


AB = {"a": "CH1", "b": "CH2"}
# name -> (text, encoding, options). Each must give T, A and B back.
DIALECTS = {
    "plain, seconds": (
        lines("Time (s),CH1,CH2", row=lambda t, a, b: f"{t:.3f},{a:.3f},{b:.3f}"),
        "utf-8", {"columns": AB}),
    "scope: row of units, exponents, trigger in the middle": (
        lines("Source,CH1,CH2", "second,Volt,Volt",
              row=lambda t, a, b: f"{t - 2:+.4E},{a:+.4E},{b:+.4E}"),
        "utf-8", {"columns": AB, "time": "Source"}),
    "scope: settings beside the first rows, no header": (
        "\n".join(
            f"{['Record Length,800', 'Sample Interval,0.005', 'Vertical Units,V', ','][min(i, 3)]}"
            f",,{t:.3f},{a:.3f},{b:.3f}" for i, (t, a, b) in enumerate(zip(T, A, B, strict=True))),
        "utf-8", {"columns": {"a": "5", "b": "6"}, "time": "4", "time_unit": "s", "unit": "V"}),
    "scope: long preamble of settings": (
        lines("Format,1.2", "Probe,10", "Coupling,DC,", "", "Time [ms],CH1 [mV],CH2 [mV]",
              row=lambda t, a, b: f"{t * 1e3:.1f},{a * 1e3:.0f},{b * 1e3:.0f}"),
        "utf-8", {"columns": AB}),
    "logger: semicolon, decimal comma, Latin-1": (
        lines("Gerät;Prüfplatz 2", "Zeit (s);CH1 (V);CH2 (V)",
              row=lambda t, a, b: comma(f"{t:.3f};{a:.3f};{b:.3f}")),
        "latin-1", {"columns": AB}),
    "logger: tab, decimal comma, UTF-16 with mark": (
        lines("Time (s)\tCH1\tCH2", row=lambda t, a, b: comma(f"{t:.3f}\t{a:.3f}\t{b:.3f}"),
              end="\r\n"), "utf-16", {"columns": AB}),
    "UTF-16 without mark": (
        lines("Time (s)\tCH1\tCH2", row=lambda t, a, b: f"{t:.3f}\t{a:.3f}\t{b:.3f}"),
        "utf-16-le", {"columns": AB}),
    "UTF-8 with mark, trailing delimiters": (
        lines("Time (s),CH1,CH2,", row=lambda t, a, b: f"{t:.3f},{a:.3f},{b:.3f},"),
        "utf-8-sig", {"columns": AB}),
    "everything quoted": (
        lines('"Time (s)","CH1","CH2"', row=lambda t, a, b: f'"{t:.3f}","{a:.3f}","{b:.3f}"'),
        "utf-8", {"columns": AB}),
    "decimal comma inside quotes": (
        lines('"Time (s)","CH1","CH2"',
              row=lambda t, a, b: ",".join(f'"{comma(f"{v:.3f}")}"' for v in (t, a, b))),
        "utf-8", {"columns": AB}),
    "a spreadsheet's sep line": (
        lines("sep=;", "Time (s);CH1;CH2", row=lambda t, a, b: f"{t:.3f};{a:.3f};{b:.3f}"),
        "utf-8", {"columns": AB}),
    "script: spaces, no header": (
        lines(row=lambda t, a, b: f"{t:8.3f} {a:8.3f} {b:8.3f}"), "utf-8", {}),
    "script: comments before and between": (
        lines("# my logger", "# t a b", row=lambda t, a, b: (
            f"{t:.3f} {a:.3f} {b:.3f}" + ("\n# still running" if abs(t - 1) < 1e-6 else ""))),
        "utf-8", {"columns": {"a": "a", "b": "b"}, "time": "t"}),
    "script: microseconds in the name": (
        lines("time_us,a,b", row=lambda t, a, b: f"{t * 1e6 + 4e9:.0f},{a:.3f},{b:.3f}"),
        "utf-8", {}),
    "script: 32-bit microseconds start again": (
        lines("micros,a,b", row=lambda t, a, b: (
            f"{(round(t * 1e6) + 2 ** 32 - 1_500_000) % 2 ** 32},{a:.3f},{b:.3f}")), "utf-8", {}),
    "script: milliseconds without a unit": (
        lines("t,a,b", row=lambda t, a, b: f"{t * 1e3 + 12_345:.0f},{a:.3f},{b:.3f}"),
        "utf-8", {"time": "t"}),
    "seconds since 1970": (
        lines("timestamp,a,b", row=lambda t, a, b: f"{1.7e9 + t:.3f},{a:.3f},{b:.3f}"),
        "utf-8", {}),
    "milliseconds since 1970": (
        lines("timestamp;a;b", row=lambda t, a, b: comma(
            f"{1.7e12 + t * 1e3:.0f};{a:.3f};{b:.3f}")), "utf-8", {}),
    "time of day": (
        lines("Time,CH1,CH2", row=lambda t, a, b: f"{clock(t)},{a:.3f},{b:.3f}"),
        "utf-8", {"columns": AB}),
    "time of day past midnight, comma": (
        lines("Time;CH1;CH2", row=lambda t, a, b: comma(
            f"{clock(t, ',', 86_398.0)};{a:.3f};{b:.3f}")), "utf-8", {"columns": AB}),
    "time of day, AM and PM, date beside it": (
        lines("Date,Time,CH1,CH2", row=lambda t, a, b: (
            f"5/2/2026,{clock(t, '.', 33_243.0)} AM,{a:.3f},{b:.3f}")),
        "utf-8", {"columns": AB}),
    "ISO 8601 with zone": (
        lines("when,CH1,CH2", row=lambda t, a, b: (
            f"2026-05-02T{clock(t)}+02:00,{a:.3f},{b:.3f}")), "utf-8", {"columns": AB}),
    "day first, decimal comma": (
        lines("Datum Zeit;CH1;CH2", row=lambda t, a, b: comma(
            f"02#05#2026 {clock(t, ',')};{a:.3f};{b:.3f}").replace("#", ".")),
        "utf-8", {"columns": AB}),
    "days of a spreadsheet": (
        lines("Date,CH1,CH2", row=lambda t, a, b: f"{46144 + t / 86400:.10f},{a:.3f},{b:.3f}"),
        "utf-8", {"columns": AB}),
    "millivolts with thousands points": (
        lines("Time (s);CH1 (mV);CH2 (mV)", row=lambda t, a, b: (
            f"{comma(f'{t:.3f}')};{thousands(a * 1e3, '.', ',')};"
            f"{thousands(b * 1e3, '.', ',')}")), "utf-8", {"columns": AB}),
    "millivolts with apostrophes, unit behind": (
        lines("Time (s);CH1;CH2", row=lambda t, a, b: (
            f"{t:.3f} s;{thousands(a * 1e3, chr(39), '.')} mV;"
            f"{thousands(b * 1e3, chr(39), '.')} mV")), "utf-8", {"columns": AB}),
    "millivolts with narrow spaces": (
        lines("Time (s)\tCH1 (mV)\tCH2 (mV)", row=lambda t, a, b: (
            f"{t:.3f}\t{thousands(a * 1e3, chr(0x202f), ',')}\t"
            f"{thousands(b * 1e3, chr(0x202f), ',')}").replace(".", ",")),
        "utf-8", {"columns": AB}),
    "header repeated by the logger": (
        lines("Time (s),CH1,CH2", row=lambda t, a, b: (
            ("Time (s),CH1,CH2\n" if t in (1.0, 2.0) else "") + f"{t:.3f},{a:.3f},{b:.3f}")),
        "utf-8", {"columns": AB}),
    "footer with averages": (
        lines("Time (s),CH1,CH2", row=lambda t, a, b: f"{t:.3f},{a:.3f},{b:.3f}",
              foot=("", "Average,1.9,0.9", "End of log")), "utf-8", {"columns": AB}),
    "old line ends and blank lines": (
        lines("Time (s),CH1,CH2", "", row=lambda t, a, b: f"{t:.3f},{a:.3f},{b:.3f}", end="\r"),
        "utf-8", {"columns": AB}),
    "true minus sign and padding": (
        lines("Time (s) | CH1 | CH2", row=lambda t, a, b: (
            f" {f'{t - 1:.3f}'.replace('-', chr(0x2212))} | {a:.3f} | {b:.3f} ")),
        "utf-8", {"columns": AB}),
    "script: every reading named": (
        lines(row=lambda t, a, b: f"t={t:.3f} s, a={a:.3f} V, b={b:.3f} V"), "utf-8", {}),
    "script: for a plotter, a greeting first": (
        lines("hello, pedal logger", row=lambda t, a, b: (
            f"millis:{t * 1e3 + 40:.0f},a:{a * 1e3:.0f},b:{b * 1e3:.0f}")),
        "utf-8", {"unit": "mV"}),
    "scope: only the row of units tells the time": (
        lines("x-axis,1,2", "second,Volt,Volt", row=lambda t, a, b: f"{t:.3f},{a:.3f},{b:.3f}"),
        "utf-8", {"columns": {"a": "1", "b": "2"}}),
    "no times, only a rate": (
        lines("CH1,CH2", row=lambda t, a, b: f"{a:.3f},{b:.3f}"),
        "utf-8", {"columns": AB, "rate_hz": 200.0}),
    "zeros at the end after a power cut": (
        lines("Time (s),CH1,CH2", row=lambda t, a, b: f"{t:.3f},{a:.3f},{b:.3f}") + "\0" * 400,
        "utf-8", {"columns": AB}),
}


def written(tmp_path, text: str, encoding: str = "utf-8"):
    path = tmp_path / "log.csv"
    path.write_bytes(text.encode(encoding))
    return path
