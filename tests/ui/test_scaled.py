"""A screen with more dots than pixels: all fits as on any other, and pictures keep their size."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("factor", ["1.5", "2"])
def test_every_page_fits_at_this_ratio_of_dots_to_pixels(factor):
    told = {**os.environ, "QT_SCALE_FACTOR": factor, "QT_QPA_PLATFORM": "offscreen"}
    run = subprocess.run(
        [sys.executable, "-m", "tests.ui.scaled"],
        env=told,
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )
    assert run.stdout == "", run.stdout
    assert run.returncode == 0, run.stderr
