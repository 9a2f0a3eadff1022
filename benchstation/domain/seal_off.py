"""Sealing off: the gas screw is closed, and the fill line is let down before the tool comes off.

The seal-off is the first confirm step after the charge. Where a gauge still reads the fill line,
its word goes before the person's.
"""

from collections.abc import Mapping
from typing import Any

from benchstation.domain.events import Event, StepSigned
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Specification, Step, StepKind
from benchstation.domain.unit_commands import NotAllowedError, form_evidence, require_step
from benchstation.quantities.units import Dimension, UnitSystem, shown

BY_WORD = "fill line vented by word alone"
LET_DOWN = "Close the gas screw and the bottle, let the line down slowly, pointed away; then sign."


def seal_off_of(specification: Specification) -> Step | None:
    """Return the step at which the fill line is let down; ``None`` where the route has none."""
    steps = specification.steps
    after = steps[steps.index(specification.step_of(StepKind.CHARGE)) + 1 :]
    return next((step for step in after if step.kind is StepKind.CONFIRM), None)


def sign_seal_off(
    rebuild: Rebuild,
    fields: Mapping[str, str],
    gauge_pa: float | None,
    instrument_id: str,
    doubt: str = "",
    *,
    units: UnitSystem = UnitSystem.METRIC,
) -> list[Event]:
    """Sign the seal-off; refused while the gauge shows more than the zero band in the fill line.

    ``gauge_pa`` is ``None`` without a valid reading; ``doubt`` says why a reading proves no zero.
    Then it rests on the person's word, and the evidence says so. A deviation accepts pressure.
    """
    step = require_step(rebuild, StepKind.CONFIRM)
    gas = rebuild.specification.gas
    pressed = gas.under_pressure(gauge_pa)
    if gauge_pa is not None and pressed and not rebuild.deviated(step.id):
        raise NotAllowedError(
            f"the gauge shows {shown(gauge_pa, Dimension.PRESSURE, units)} in the fill line.",
            where=step.title,
            advice=LET_DOWN,
        )
    confirmed = form_evidence(step, fields)
    line = _line(gauge_pa, gas.release_zero_band, instrument_id, "" if pressed else doubt)
    noted = [f"{k}: {v}" for k, v in confirmed.items() if v != "confirmed"]
    said = str(line.get("line", "")) or f"{line['gauge_pa'] / 1e5:z.2f} bar gauge"
    summary = "; ".join([*noted, said])
    return [StepSigned(rebuild.unit_id, step.id, summary, {**confirmed, **line})]


def _line(gauge_pa: float | None, band: float, instrument_id: str, doubt: str) -> dict[str, Any]:
    if gauge_pa is None or doubt:
        return {"line": f"{BY_WORD}: {doubt or 'no gauge reading'}"}
    return {"gauge_pa": gauge_pa, "band_pa": band, "instrument_id": instrument_id}
