"""The crate scale's driver, held to what every driver must keep."""

from pathlib import Path

from crate_scale import CrateScale

from benchstation.driver_api.testing import DriverConformance, read_transcripts

OPTIONS = {"channel": {"quantity": "mass"}}


class TestCrateScale(DriverConformance):
    driver = CrateScale
    options = OPTIONS
    transcripts = read_transcripts(Path(__file__).parent)
    checksummed = True
