"""Which calibration an instrument had: evidence names it, for an instrument is calibrated anew."""

from benchstation.domain.events import InstrumentRegistered


def calibration_name(calibrated_on: str, certificate: str) -> str:
    """Name a calibration by its date and certificate; empty where there is none."""
    return f"{calibrated_on} {certificate}".strip()


def calibration_of(registered: InstrumentRegistered) -> str:
    """Name the calibration that is in force for an instrument."""
    return calibration_name(registered.calibrated_on, registered.certificate)
