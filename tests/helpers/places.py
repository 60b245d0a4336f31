"""Where things stand in the checkout, whatever the depth of the test that asks."""

from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
