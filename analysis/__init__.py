"""Numbers in, numbers out: what a pedal recording shows, and what to set because of it.

Rules of the house: this package imports numpy, scipy and the standard library only.
It opens no file and no port, reads no clock, and knows nothing of Qt or of `bench`.
"""
