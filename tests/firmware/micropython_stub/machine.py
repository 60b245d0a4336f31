"""What the firmware needs of a board, for MicroPython on the desktop; runs in MicroPython.

Input `pin` reads a fixed voltage, as its converter would see it; the I2C bus holds one
four-channel 16-bit converter with registers as in its public register description.
"""

VOLTS = {26: 0.5, 27: 1.0, 28: 2.5, 32: 0.05, 33: 1.0, 34: 3.0, 0: 0.5, 1: 1.0, 2: 2.5, 3: 3.0}


class Pin:
    def __init__(self, number):
        self.number = number


class ADC:
    ATTN_11DB = 3

    def __init__(self, pin):
        self.volts = VOLTS[pin.number]

    def atten(self, setting):
        assert setting == ADC.ATTN_11DB

    def read_u16(self):
        code = int(self.volts / 3.3 * 4096)
        return code << 4 | code >> 8

    def read_uv(self):
        return int(self.volts * 1e6)


class I2C:
    def __init__(self, number, scl, sda, freq):
        self.pointer = 0
        self.configuration = 0x8583
        self.polls = 0

    def writeto(self, address, data):
        assert address == 0x48
        self.pointer = data[0]
        if len(data) == 3:
            assert self.pointer == 1
            self.configuration = data[1] << 8 | data[2]
            self.polls = 2  # busy for the next two looks

    def readfrom_into(self, address, buffer):
        if self.pointer == 1:
            self.polls -= 1
            word = self.configuration & 0x7FFF | (0x8000 if self.polls <= 0 else 0)
        else:
            mux = self.configuration >> 12 & 7
            assert mux >= 4  # against ground
            assert self.configuration >> 9 & 7 == 1  # +-4.096 V
            word = int(VOLTS[mux - 4] / 4.096 * 32768)
        buffer[0] = word >> 8
        buffer[1] = word & 0xFF
