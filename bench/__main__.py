"""Run the command line as `python -m bench`."""

import sys

from bench.command_line import main

sys.exit(main())
