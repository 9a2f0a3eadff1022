"""Run the station as ``python -m benchstation``."""

import sys

from benchstation.cli import main

sys.exit(main())
