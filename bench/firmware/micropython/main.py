"""Pedal bench board for MicroPython: copy this one file to the board as main.py.

It reads analogue inputs at even intervals and sends text lines or checked frames over the
board's own serial port; formats and commands are those of docs/wire.md. It only reads.

Runs unchanged on RP2040 and ESP32 class boards. Other pins or names, or the common four-channel
16-bit converter on I2C (address 0x48), go into a second file, board_settings.py:

    KIND = "i2c16"          # "rp2", "esp32", "i2c16", "other"
    PINS = (0, 1, 2)        # inputs, in the order of the columns
    COLUMNS = ("a", "b", "supply")
    ROLES = ("track", "track", "supply")
    I2C = (0, 5, 4)         # only for i2c16: number, SCL pin, SDA pin

The sequence number counts ticks, also those that were missed, so that the host sees every loss.
"""

import select
import sys
import time
from array import array

from machine import ADC, Pin

# kind: pins, full scale, reference volts, lowest and highest reading to be believed.
# rp2: 12 bits; the lowest and highest few codes are not reached cleanly.
# esp32: calibrated microvolts in steps of 100; the converter flattens out below 0.15 V and above
# 2.45 V, so readings outside are not to be believed however steady they look.
# i2c16: +-4.096 V range, of which the positive half is used.
# A converter that reads both ways from 0 has a lowest reading below 0 and gives negative numbers.
KINDS = {
    "rp2": ((26, 27, 28), 4096, 3.3, 8, 4087),
    "esp32": ((32, 33, 34), 33000, 3.3, 1500, 24500),
    "i2c16": ((0, 1, 2, 3), 32768, 4.096, 0, 32766),
    "other": ((0, 1, 2), 65536, 3.3, None, None),
}

# Bytes of a reading in a frame, and the kind byte of a frame of one channel (docs/wire.md).
SIZES = ((2, 0x20), (3, 0x30))

try:
    import board_settings as wanted
except ImportError:
    wanted = None


def setting(name, default):
    return getattr(wanted, name, default)


KIND = setting("KIND", sys.platform if sys.platform in KINDS else "other")
PINS, FULL_SCALE, REFERENCE, LOW, HIGH = KINDS[KIND]
PINS = setting("PINS", PINS)
COLUMNS = setting("COLUMNS", ("a", "b", "supply", "key")[: len(PINS)])
ROLES = setting("ROLES", ("track", "track", "supply", "key")[: len(PINS)])


class OnChip:
    """Read the board's own converter."""

    def __init__(self):
        self.inputs = [ADC(Pin(pin)) for pin in PINS]
        if KIND == "esp32":
            for one in self.inputs:
                one.atten(ADC.ATTN_11DB)  # the widest range

    def read(self, place):
        one = self.inputs[place]
        if KIND == "rp2":
            return one.read_u16() >> 4  # 12 bits; the rest is filled up
        if KIND == "esp32":
            return one.read_uv() // 100
        return one.read_u16()


class FourChannel:
    """Read a four-channel 16-bit converter on I2C, one single conversion after another."""

    ADDRESS = 0x48

    def __init__(self):
        from machine import I2C

        number, scl, sda = setting("I2C", (0, 5, 4))
        self.bus = I2C(number, scl=Pin(scl), sda=Pin(sda), freq=400000)
        self.command = bytearray(3)
        self.answer = bytearray(2)

    def read(self, place):
        # Configuration register 1: start, input against ground, +-4.096 V, single, 860 per second.
        word = 0x8000 | (4 + PINS[place]) << 12 | 1 << 9 | 1 << 8 | 7 << 5 | 3
        self.command[0] = 1
        self.command[1] = word >> 8
        self.command[2] = word & 0xFF
        self.bus.writeto(self.ADDRESS, self.command)
        while True:
            self.bus.readfrom_into(self.ADDRESS, self.answer)
            if self.answer[0] & 0x80:  # conversion is done
                break
        self.bus.writeto(self.ADDRESS, b"\0")
        self.bus.readfrom_into(self.ADDRESS, self.answer)
        reading = self.answer[0] << 8 | self.answer[1]
        return 0 if reading & 0x8000 else reading  # a little below ground is ground


def crc_table():
    table = array("H")
    for byte in range(256):
        crc = byte << 8
        for _ in range(8):
            crc = (crc << 1 ^ 0x1021 if crc & 0x8000 else crc << 1) & 0xFFFF
        table.append(crc)
    return table


CRC = crc_table()


def finish(frame, length):
    """Put the CRC-16/IBM-3740 of the first `length` bytes behind them."""
    crc = 0xFFFF
    table = CRC
    for place in range(length):
        crc = (crc << 8 & 0xFF00) ^ table[crc >> 8 ^ frame[place]]
    frame[length] = crc >> 8
    frame[length + 1] = crc & 0xFF


class Board:
    def __init__(self):
        self.converter = FourChannel() if KIND == "i2c16" else OnChip()
        self.channels = len(PINS)
        self.passes = 1
        self.shift = 0
        self.frames = False
        self.running = True
        self.wanted_rate = 200
        self.sequence = 0
        self.listened = 0
        self.overruns = 0
        self.clock = 0  # microseconds since the start; the board's own counter is too short
        self.seen = time.ticks_us()
        self.line = ""
        self.poll = select.poll()
        self.poll.register(sys.stdin, select.POLLIN)
        self.apply()

    def now(self):
        ticks = time.ticks_us()
        self.clock += time.ticks_diff(ticks, self.seen)
        self.seen = ticks
        return self.clock

    def apply(self):
        """Take the wanted rate, or as fast as this board can do it; make room for the row."""
        self.readings = [0] * self.channels
        codes = FULL_SCALE << self.shift
        if LOW is not None and LOW < 0:
            codes *= 2  # two's complement
        self.size, kind = next(s for s in SIZES if codes <= 1 << 8 * s[0])
        kind += self.channels - 1
        length = 10 + self.size * self.channels
        self.frame = bytearray(length + 2)
        self.frame[0] = 0xA5
        self.frame[1] = kind
        self.frame[2] = kind ^ 0xFF
        start = self.now()
        for _ in range(4):
            self.sample()
            self.row(start)
        needed = (self.now() - start) // 4 * 5 // 4 + 50
        start = self.now()
        self.sample()
        self.channel_us = (self.now() - start) // self.channels
        self.period = max(1000000 // self.wanted_rate, needed)
        self.next = self.now() + self.period
        self.hello_at = self.next - 1000000

    def sample(self):
        for place in range(self.channels):
            total = 0
            for _ in range(self.passes):
                total += self.converter.read(place)
            self.readings[place] = total >> self.shift

    def row(self, clock):
        """Return the row as bytes to send."""
        if not self.frames:
            return f"{clock & 0xFFFFFFFF},{','.join(map(str, self.readings))}\n"
        frame = self.frame
        sequence = self.sequence
        for place in range(3):
            frame[3 + place] = sequence >> 8 * place & 0xFF
        for place in range(4):
            frame[6 + place] = clock >> 8 * place & 0xFF
        at = 10
        for reading in self.readings:
            for place in range(self.size):
                frame[at] = reading >> 8 * place & 0xFF
                at += 1
        finish(frame, at)
        return frame

    def hello(self):
        words = [
            f'name="{KIND} MicroPython board"',
            f"full_scale={FULL_SCALE << self.shift}",
            f"reference_volts={REFERENCE}",
            f"rate_hz={1000000 / self.period:.3f}",
            "time=us",
            "columns=" + ",".join(COLUMNS[: self.channels]),
            "roles=" + ",".join(ROLES[: self.channels]),
            f"channel_us={self.channel_us}",  # from one input to the next, as measured
            f"overruns={self.overruns}",
        ]
        if LOW is not None:
            words.append(f"usable_low={LOW << self.shift} usable_high={HIGH << self.shift}")
        text = " ".join(words).encode()
        if not self.frames:
            self.write(b"# " + text + b"\n")
            return
        length = len(text)
        frame = bytearray(7 + length + 2)
        frame[:7] = bytes((0xA5, 0x48, 0xB7, length & 0xFF, length >> 8,
                           ~length & 0xFF, ~length >> 8 & 0xFF))
        frame[7:7 + length] = text
        finish(frame, 7 + length)
        self.write(frame)

    def write(self, data):
        sys.stdout.buffer.write(data.encode() if isinstance(data, str) else data)

    def listen(self):
        while self.poll.poll(0):
            letter = sys.stdin.read(1)
            if not letter:
                raise SystemExit  # the other side is gone
            if letter in "\r\n":
                line, self.line = self.line, ""
                if line:
                    self.obey(line)
            elif len(self.line) < 20:
                self.line += letter

    def obey(self, line):
        word, _, number = line.partition(" ")
        number = int(number) if number.isdigit() else 0
        if word == "start":
            self.running = True
        elif word == "stop":
            self.running = False
        elif word == "text":
            self.frames = False
        elif word == "frames":
            self.frames = True
        elif word == "rate" and number:
            self.wanted_rate = number
        elif word == "channels" and 1 <= number <= len(PINS):
            self.channels = number
        elif word == "oversample" and number in (1, 4, 16):
            self.passes = number
            self.shift = {1: 0, 4: 1, 16: 2}[number]
        elif word == "?":
            self.hello()
            return
        else:
            return
        self.apply()
        self.hello()
        self.hello_at = self.now()

    def run(self):
        while True:
            now = self.now()
            if now < self.next:
                # Commands are read while there is time, so that they delay no sample.
                if self.next - now > 500 or self.sequence - self.listened > 16:
                    self.listened = self.sequence
                    self.listen()
                continue
            missed = (now - self.next) // self.period
            self.next += (missed + 1) * self.period
            if not self.running:
                if now - self.hello_at >= 1000000:
                    self.hello_at = now
                    self.hello()
                continue
            self.sequence = self.sequence + 1 + missed & 0xFFFFFF
            self.overruns += missed
            self.sample()
            if now - self.hello_at >= 1000000:
                self.hello_at = now
                self.hello()
            self.write(self.row(now))


if __name__ == "__main__":
    Board().run()
