"""What several tests of the recording file share: an example, and how to seal it."""

import zlib
from pathlib import Path

import numpy as np

from analysis.model.recording import Channel
from bench.files.recording_file import RecordingHeader

# The example of the format's description (FORMATS.md), with two rows more.
EXAMPLE = """\
# stillpedal_recording = 1
# title = "box as found"
# started = "2026-05-02T09:14:03+02:00"
# purpose = "sweep"
# rate_hz = 500.0
# [board]
# name = "10-bit board"
# [[channel]]
# column = "a"
# role = "track"
# unit = "counts"
# full_scale = 1024
# reference_volts = 5.0
# scale = 1.0
# offset_volts = 0.0
# [[channel]]
# column = "supply"
# role = "supply"
# unit = "counts"
# full_scale = 1024
# reference_volts = 5.0
# nominal_volts = 5.0
time_s,a,supply,mark
0.000,98,1023,
0.002,,1022,rest
0.004,99,1023,"gap 3"
"""

def sealed(text: str) -> bytes:
    data = text.encode()
    table = data[data.index(b"time_s,"):]
    return data + f"# end rows={table.count(chr(10).encode()) - 1} crc32={zlib.crc32(table):08X}\n"\
        .encode()


def channel(column: str, readings: object = (), **more: object) -> Channel:
    values = {"role": "track", "full_scale": 1024.0, "reference_volts": 5.0} | more
    return Channel(column, readings=np.asarray(readings, float), **values)  # type: ignore[arg-type]


def header(columns: str = "ab") -> RecordingHeader:
    return RecordingHeader(tuple(channel(c) for c in columns), title="t", rate_hz=500.0,
                           started="2026-11-25T10:00:00+01:00", board_name="a board")


def put(path: Path, data: bytes | str) -> Path:
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


HEAD = EXAMPLE[: EXAMPLE.index("time_s,")]
