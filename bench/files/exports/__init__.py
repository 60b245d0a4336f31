"""Settings and measurements for other programs: one module per format.

`settings_formats` names the settings formats; each turns findings (or bare settings) into text.
No format of a particular controller is built in: `template` fills the user's own.
"""

from collections.abc import Callable


def settings_formats() -> dict[str, Callable[..., str]]:
    """Return format name -> exporter(what, path=None) -> text.

    what: `Findings`, a tuple of `Setting`, or a `Sheet`; path: the recording's file, whose name
    and SHA-256 are then stated. Every text ends in a line end; write it with newline="" so that
    a CSV keeps the line ends RFC 4180 asks for.
    """
    from bench.files.exports import c_header, csv_settings, json_settings, text, toml_settings

    return {
        "text": text.settings_text,
        "json": json_settings.settings_json,
        "csv": csv_settings.settings_csv,
        "toml": toml_settings.settings_toml,
        "c": c_header.settings_c_header,
    }
