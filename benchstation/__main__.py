"""Run the station as ``python -m benchstation``."""

import sys

from benchstation.cli.main import main

sys.exit(main())
