"""Proof on the car: wires opened, joints shaken, warmth, loads switched, the first drive."""
