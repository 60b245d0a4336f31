"""Pedal, leads, board and controller as a network of resistors."""
