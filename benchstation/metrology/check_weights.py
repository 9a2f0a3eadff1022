"""Check weights: maximum permissible errors by class, and which weight suits which limit.

OIML R 111-1:2004, table 1, nominal masses of 1 g to 50 kg. The error of a weight should be no more
than a third of what is judged with it (OIML R 76-1:2006, 3.7.1).
"""

from math import isclose

CLASSES = ("E1", "E2", "F1", "F2", "M1", "M2", "M3")
SHARE = 3.0
_MG = 1e-6
_ERRORS_MG = {
    50.0: (25.0, 80.0, 250.0, 800.0, 2500.0, 8000.0, 25000.0),
    20.0: (10.0, 30.0, 100.0, 300.0, 1000.0, 3000.0, 10000.0),
    10.0: (5.0, 16.0, 50.0, 160.0, 500.0, 1600.0, 5000.0),
    5.0: (2.5, 8.0, 25.0, 80.0, 250.0, 800.0, 2500.0),
    2.0: (1.0, 3.0, 10.0, 30.0, 100.0, 300.0, 1000.0),
    1.0: (0.5, 1.6, 5.0, 16.0, 50.0, 160.0, 500.0),
    0.5: (0.25, 0.8, 2.5, 8.0, 25.0, 80.0, 250.0),
    0.2: (0.10, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0),
    0.1: (0.05, 0.16, 0.5, 1.6, 5.0, 16.0, 50.0),
    0.05: (0.03, 0.10, 0.3, 1.0, 3.0, 10.0, 30.0),
    0.02: (0.025, 0.08, 0.25, 0.8, 2.5, 8.0, 25.0),
    0.01: (0.020, 0.06, 0.20, 0.6, 2.0, 6.0, 20.0),
    0.005: (0.016, 0.05, 0.16, 0.5, 1.6, 5.0, 16.0),
    0.002: (0.012, 0.04, 0.12, 0.4, 1.2, 4.0, 12.0),
    0.001: (0.010, 0.03, 0.10, 0.3, 1.0, 3.0, 10.0),
}
"""By nominal mass in kg, in the order of the classes."""


def permissible_error(nominal_kg: float, weight_class: str) -> float | None:
    """Return the maximum permissible error in kg; ``None``: there is no such weight."""
    row = next((v for k, v in _ERRORS_MG.items() if isclose(k, nominal_kg, rel_tol=1e-6)), None)
    if row is None or weight_class not in CLASSES:
        return None
    return row[CLASSES.index(weight_class)] * _MG


def suits(error_kg: float, limit_kg: float) -> bool:
    """Return True when a weight's permissible error is at most a third of the limit judged."""
    return error_kg * SHARE <= limit_kg * (1.0 + 1e-9)
