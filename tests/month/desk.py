"""The office: orders, deliveries and people come in, and QA says its word on what was filed."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from benchstation.bench.session import BenchSession
from benchstation.bench.without_instruments import QuietLoop, session_without_instruments
from benchstation.clock import StepClock
from benchstation.config.settings import Settings
from benchstation.demo import shop as demo
from benchstation.demo.materials import part_lot
from benchstation.domain.disposition import Standing
from benchstation.domain.form_fields import SIGNATURE
from benchstation.domain.inputs.given import YES
from benchstation.domain.materials import Sort
from benchstation.domain.shipping import UN_3164
from benchstation.domain.wanted_materials import wanted_by
from benchstation.store.column_limits import serial_key
from benchstation.store.filters import By, Filters, each_unit
from benchstation.store.recall import doubt_about, units_since
from benchstation.store.shop.joining import Login
from benchstation.store.shop.shop_store import ShopStore, open_shop
from benchstation.store.unit_rows import UnitRow
from tests.month.bench_days import trust_then
from tests.month.scenario import BENCHES, NEW_OIL, NEW_PEOPLE, SECOND_QA, Job, is_set

ROLES = ("technician", "lead", "qa")
MOST = 1_000
SUPPLIER = "Seal supplier, invented"


@dataclass(slots=True)
class Desk:
    """Somebody at the desk of the shop, at a time of day."""

    store: ShopStore
    session: BenchSession
    clock: StepClock

    def sign_in(self, person: str) -> None:
        """Sign somebody in."""
        self.session.act("sign_in", {"person": person, "pin": demo.PIN})

    def act(self, action: str, **form: str) -> None:
        """Do what a person does, signed with the PIN that everybody has here."""
        self.session.act(action, {**form, SIGNATURE: demo.PIN})
        self.clock.advance(1.0)

    def enrol_all(self) -> None:
        """Have the lead enrol the people who are new; QA confirms a new colleague."""
        self.sign_in(demo.LEAD)
        for name, roles in NEW_PEOPLE:
            qa = {"confirmed_by": demo.QA, "confirm_pin": demo.PIN} if "qa" in roles else {}
            given = {role: YES for role in ROLES if role in roles}
            pins = {"pin": demo.PIN, "pin_again": demo.PIN}
            self.act("enrol", name=name, **pins, **given, **qa)

    def receive_kits(self, lot: str, until: str) -> None:
        """Have the lead take in a delivery of kits, with the bags of their parts."""
        self.sign_in(demo.LEAD)
        wanted = {
            (one.sort, one.number): one
            for specification in self.session.shop.current_specifications()
            for step in specification.steps
            for one in wanted_by(step)
            if one.sort is not Sort.WRENCH
        }
        for one in wanted.values():
            self.act(
                "receive_material",
                sort=one.sort.value,
                number=one.number,
                lot=lot if one.sort is Sort.KIT else part_lot(lot, one.number),
                name=one.label,
                supplier=SUPPLIER,
                until=until,
            )

    def receive_oil(self) -> None:
        """Have the lead take in new lots of oil by their certificates, and close the old ones."""
        self.sign_in(demo.LEAD)
        for new in NEW_OIL:
            self.act(
                "receive_certificate",
                lot=new.lot,
                oil=new.oil,
                source="supplier's certificate, 15 °C (ISO 12185)",
                supplier="Oil supplier, invented",
                density=f"{new.kg_m3} kg/m3",
                u="0.3 kg/m3",
            )
            self.act("use_up", lot_open=new.follows)

    def place_orders(self, jobs: list[Job], due: str) -> None:
        """Have the lead place the orders of these units: sets one by one, the others as a list."""
        self.sign_in(demo.LEAD)
        by_order: dict[str, list[Job]] = {}
        for job in jobs:
            by_order.setdefault(job.order, []).append(job)
        rows = ["serial,family,position,order,due"]
        for order, units in by_order.items():
            if is_set(units):
                self._place_set(order, units, due)
            else:
                rows += [f"{u.serial},{u.family},{u.position},{order},{due}" for u in units]
        if len(rows) > 1:
            self.act("import_units", csv="\n".join(rows))

    def _place_set(self, order: str, units: list[Job], due: str) -> None:
        numbered = {}
        for n, unit in enumerate(units, 1):
            numbered |= {f"serial{n}": unit.serial, f"position{n}": unit.position}
        self.act(
            "place_order",
            order=order,
            due=due,
            note=f"for {units[0].customer}",
            matched=YES,
            count=str(len(units)),
            family=next(u.family for u in units if "front" in u.position),
            rear_family=next(u.family for u in units if "rear" in u.position),
            **numbered,
        )

    def look_into_checks(self, today: datetime) -> list[str]:
        """Have QA reject what rests on an instrument that failed its check today; gives the ids."""
        self.sign_in(demo.QA)
        rejected = []
        for bench in BENCHES:
            for instrument in ("scale-1", "gauge-1"):
                failed = doubt_about(self.store, instrument, bench).failed
                if failed is None or failed.utc < today:
                    continue
                reason = f"{instrument} failed its check; worked since its last good one"
                for row in units_since(self.store, [instrument], limit=MOST):
                    if row.bench == bench and row.state == "filed":
                        self._say(row, "rejected", reason)
                        rejected.append(row.unit_id)
        return rejected

    def look_into_calibrations(self, serials: list[str], instrument: str) -> list[str]:
        """Have QA reject what a calibration as found would have judged less well; gives the ids."""
        self.sign_in(demo.QA)
        found = each_unit(self.store, Filters({By.SERIAL: tuple(map(serial_key, serials))}))
        rows = [row for row in found if row.state == "filed"]
        for row in rows:
            self._say(row, "rejected", f"{instrument} as its calibration found it")
        return [row.unit_id for row in rows]

    def withdraw_kit(self, lot: str) -> None:
        """Have the lead withdraw the delivery of kits that is behind what came back."""
        self.sign_in(demo.LEAD)
        for material in list(self.session.shop.stock.received.values()):
            if material.lot == lot:
                named = {"material_sort": material.sort.value, "material_number": material.number}
                self.act("withdraw_material", **named, material_lot=lot, reason="units lose gas")

    def review(self, before: datetime) -> None:
        """Have QA say its word on all that was filed before then and waits for it."""
        self.sign_in(SECOND_QA)
        for row in self._standing(Standing.NOT_RELEASED, before):
            self._say(row, "released", "record complete")
        for place, row in enumerate(self._standing(Standing.ON_HOLD, before)):
            if row.decision == "pass":
                self._say(row, "released", "looked into, the figures stand")
            elif row.qa_hold and place % 2:
                self._say(row, "released", "deviation accepted by the customer in writing")
            else:
                self._say(row, "rejected", "to be worked again")

    def _standing(self, standing: Standing, before: datetime) -> list[UnitRow]:
        found = each_unit(self.store, Filters({By.STANDING: (standing.value,)}))
        filed = [row for row in found if row.filed_utc is not None and row.filed_utc < before]
        return sorted(filed, key=lambda row: (row.filed_utc, row.unit_id))

    def _say(self, row: UnitRow, word: str, reason: str) -> None:
        self.act("dispose", unit=row.unit_id, disposition=word, reason=reason)

    def ship_released(self, customer_of: dict[str, str], before: datetime) -> list[str]:
        """Have the lead ship what is released; gives the ids of the units."""
        self.sign_in(demo.LEAD)
        rows = self._standing(Standing.RELEASED, before)
        for row in rows:
            to = {"customer": customer_of[row.order], "address": "In the valley 1"}
            how = {"package": "a box of six", "clause": UN_3164}
            self.act("ship", unit=row.unit_id, order=row.order, **to, **how)
        return [row.unit_id for row in rows]

    def take_returned(self, unit_id: str, complaint: str, found: str) -> None:
        """Have the lead take a unit back from its customer."""
        self.sign_in(demo.LEAD)
        self.act("take_returned", unit=unit_id, complaint=complaint, found=found)


@contextmanager
def at_desk(login: Login, folder: Path, when: datetime) -> Iterator[Desk]:
    """Open the desk of the whole shop, with everything that the benches sent."""
    with open_shop(login.address, trust_then(folder, when)) as store:
        assert store.catch_up().broken == {}
        clock = StepClock(when)
        session = session_without_instruments(store, demo.NAME, clock.clock, Settings())
        QuietLoop(session).tick()
        yield Desk(store, session, clock)


def evening(morning: datetime) -> datetime:
    """Return when QA looks at what was filed that day."""
    return morning + timedelta(hours=10, minutes=30)
