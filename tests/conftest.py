"""Qt must know before it loads that there is no screen."""

import os

os.environ["QT_QPA_PLATFORM"] = "offscreen"
