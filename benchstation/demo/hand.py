"""The virtual jug, syringe and bottle of the demonstration, for a panel of the window."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from benchstation.bench.session import BenchSession
from benchstation.demo.past import PastInMaking
from benchstation.demo.world import World
from benchstation.domain.specification import StepKind
from benchstation.screens.model.service import PastView

SYRINGE_KG = 1e-3
BLEED_KG = 5e-4
MOST_REGULATOR_PA = 45e5
USUAL_GAS_M3 = 1e-4
"""A hand opens a valve less where less gas has room: into this much, as far as the knob says."""


@dataclass(slots=True)
class VirtualHand:
    """Moves the virtual bench as a hand would. Safe from any thread."""

    world: World
    making: PastInMaking | None = None
    """The past that is made beside the bench, where it was not there when the window opened."""
    _unit: list[str] = field(default_factory=list)
    _at_work: bool = False

    def follow(self, session: BenchSession) -> None:
        """Put a worn unit on the virtual bench whenever another one is opened at the bench.

        Its gas screw is closed once the charge is signed, and opened when that is gone back to:
        Vent then lets the fill line down.
        """
        rebuild = session.rebuild
        self._at_work = rebuild is not None and not rebuild.ended
        if rebuild is None or rebuild.ended:
            return
        if [rebuild.unit_id] != self._unit:
            self._unit[:] = [rebuild.unit_id]
            lot = session.shop.lots[rebuild.opened.oil_lot]
            first, charge = rebuild.unit_after, rebuild.charge
            if first is not None and charge is not None:
                load_kg = first.shown_kg / session.scale.registered.gain
                self.world.bring_back(
                    rebuild.specification, lot.rho15_kg_m3, load_kg, charge.amount_kg
                )
                return
            self.world.bring_in(rebuild.specification, lot.rho15_kg_m3)
        if rebuild.specification.step_of(StepKind.CHARGE).id in rebuild.signatures:
            self.world.model.close_gas_screw()
        else:
            self.world.model.open_gas_screw()

    def set_pour(self, opening: float) -> None:
        """Tip the jug: 0 upright, 1 fully tipped."""
        self.world.model.pour_opening = _share(opening)

    def set_valve(self, opening: float) -> None:
        """Open the bottle valve, 0..1."""
        self.world.model.valve_opening = _share(opening) * self._gently()

    def set_vent(self, opening: float) -> None:
        """Open the vent, 0..1; the first part is slow."""
        self.world.model.vent_opening = _share(opening) ** 2 * self._gently()

    def _gently(self) -> float:
        return min(1.0, self.world.model.room_m3 / USUAL_GAS_M3)

    def set_regulator(self, gauge_pa: float) -> None:
        """Set the regulator."""
        self.world.model.regulator_gauge_pa = min(max(0.0, gauge_pa), MOST_REGULATOR_PA)

    def take_out(self) -> None:
        """Take a gram of oil out with the syringe."""
        self.world.model.take_out(SYRINGE_KG)

    def put_on_pan(self, what: str) -> None:
        """Put something on the scale."""
        self.world.model.put_on_pan(what)

    def bleed(self) -> None:
        """Let half a gram out into the tray."""
        self.world.model.bleed(BLEED_KG)

    def state(self) -> Mapping[str, Any]:
        """Return the controls as they stand."""
        model = self.world.model
        return {
            "pour": model.pour_opening,
            "valve": model.valve_opening,
            "vent": model.vent_opening**0.5,
            "regulator_gauge_pa": model.regulator_gauge_pa,
            "on_pan": model.on_pan,
        }

    def past(self) -> PastView | None:
        """Return how far the shop's past is made; ``None`` where it is on record already."""
        return self.making.view() if self.making is not None else None

    def open_past(self) -> str:
        """Ask for the past when the window has closed; return what is against it, or nothing."""
        if self._at_work:
            return "A unit is on the bench. File it or set it aside first."
        if self.making is None or not self.making.view().ready:
            return "The past is not ready yet."
        self.making.wanted = True
        return ""


def _share(value: float) -> float:
    return min(max(0.0, value), 1.0)
