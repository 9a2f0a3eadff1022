"""Refusal of input that cannot be judged.

StationError
+-- MetrologyError    a budget, limit, calibration or series is not one that can be evaluated
"""

from benchstation.driver_api.errors import StationError


class MetrologyError(StationError):
    """A budget, limit, calibration or series cannot be evaluated as given. Nothing was computed."""

    def __init__(self, what: str, *, advice: str = "Check the entry.", detail: str = "") -> None:
        super().__init__(what, advice=advice, detail=detail)
