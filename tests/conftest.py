"""Qt must know before it loads that there is no screen; CI must not fail by the luck of a draw."""

import os

from hypothesis import settings

os.environ["QT_QPA_PLATFORM"] = "offscreen"

# On a developer's machine hypothesis draws anew each time; what it finds becomes a test.
settings.register_profile("ci", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("ci")
