"""The uncertainty of net mass: gross less tare, both read on one calibrated scale.

Both readings lean on the same calibration, so their errors are correlated and partly cancel: by
GUM (JCGM 100:2008) 5.2.2 and F.1.2.3 the offset drops out and what is left of the calibration is
(gross - tare) u_gain. Resolution and repeatability are new at each reading and do not cancel.
"""

import math

from benchstation.metrology.calibration import LinearCalibration
from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.uncertainty import Budget, Contribution, normal, resolution


def net_budget(
    gross: float,
    tare: float,
    calibration: LinearCalibration,
    *,
    step: float,
    repeatability: float,
    repeatability_dof: float = math.inf,
    others: tuple[Contribution, ...] = (),
) -> Budget:
    """Return the budget of ``calibration.apply(gross) - calibration.apply(tare)``.

    ``gross`` and ``tare`` are readings before calibration, ``step`` the value of the last digit,
    ``repeatability`` the standard deviation of one reading, all in one unit (kg); a tare pressed
    into the scale is the reading it stood at then. ``others`` are added as independent.
    """
    if not (math.isfinite(gross) and math.isfinite(tare) and step >= 0.0):
        raise MetrologyError(f"gross {gross} and tare {tare} with step {step} give no net mass.")
    gain = calibration.gain
    u_gross, u_tare = calibration.u(gross), calibration.u(tare)
    parts: list[Contribution] = []
    for name, sign in (("gross", 1.0), ("tare", -1.0)):
        parts += (
            resolution(f"resolution, {name}", step, sensitivity=sign * gain),
            normal(
                f"repeatability, {name}",
                repeatability,
                sensitivity=sign * gain,
                dof=repeatability_dof,
            ),
        )
    parts += (
        normal("calibration, gross", u_gross),
        normal("calibration, tare", u_tare, sensitivity=-1.0),
    )
    if not u_gross * u_tare > 0.0:
        return Budget((*parts, *others))
    r = calibration.covariance(gross, tare) / (u_gross * u_tare)
    pair = ("calibration, gross", "calibration, tare")
    return Budget((*parts, *others), {pair: max(-1.0, min(1.0, r))})
