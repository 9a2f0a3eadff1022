"""The audit at the end: what the workbench answers, held against what was really in each unit."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from benchstation.domain.disposition import Standing
from benchstation.domain.materials import text_key
from benchstation.domain.orders import LineState
from benchstation.domain.unit_record import UnitRecord
from benchstation.metrology.conformity import GUARD_FACTOR, Decision
from benchstation.store.filters import By, Filters, each_unit
from benchstation.store.order_queries import find_orders
from benchstation.store.queries import record_of
from benchstation.store.recall import doubt_about, units_since
from benchstation.store.search_projections import lot_key
from benchstation.store.shop.shop_store import ShopStore
from benchstation.store.shop.status import status_of
from benchstation.store.trust import SYSTEM
from benchstation.store.unit_rows import UnitRow
from benchstation.store.words_on_units import words_on
from tests.month.bench_days import Made
from tests.month.charts import figures_of, who_shifts
from tests.month.desk import at_desk, evening
from tests.month.running import Shop
from tests.month.scenario import (
    BENCHES,
    CREEPS,
    DEAF_SCALE,
    DUE,
    NEW_OIL,
    OFF_ZERO,
    morning,
)

PASS, FAIL = Decision.PASS.value, Decision.FAIL.value
UNWORKED = {LineState.WAITING, LineState.STARTED, LineState.ASIDE, LineState.SECOND}
OIL_STEPS = {"oil", "bleed"}
MOST = 2_000
LEFT = (
    Standing.SHIPPED,
    Standing.SHIPPED_ALONE,
    Standing.SHIPPED_HELD,
    Standing.SHIPPED_REJECTED,
    Standing.SHIPPED_UNRELEASED,
    Standing.RETURNED,
)


@dataclass(slots=True)
class Answer:
    """One question, what the workbench says, what is so, and whether both agree."""

    question: str
    said: Any
    so: Any
    agrees: bool


@dataclass(slots=True)
class Audit:
    """All answers, and the figures of the month."""

    figures: dict[str, Any] = field(default_factory=dict)
    answers: list[Answer] = field(default_factory=list)

    def ask(self, question: str, said: Any, so: Any, *, agrees: bool | None = None) -> None:
        """Note an answer."""
        self.answers.append(Answer(question, said, so, said == so if agrees is None else agrees))

    @property
    def wrong(self) -> list[Answer]:
        """Return the answers that do not agree with what is so."""
        return [answer for answer in self.answers if not answer.agrees]

    def as_data(self) -> dict[str, Any]:
        """Return all of it as plain data."""
        return {"figures": self.figures, "answers": [asdict(one) for one in self.answers]}


def audit(shop: Shop) -> Audit:
    """Ask the workbench of the shop what happened in the month."""
    done, when = Audit(), evening(morning(shop.month.days - 1))
    with at_desk(shop.desk, shop.folder / "desk", when) as desk:
        store = desk.store
        filed = _rows(store, By.STATE, "filed")
        records = {row.unit_id: record_of(store, row.unit_id) for row in filed}
        _records(done, shop, filed, records)
        _shipped(done, shop, store, records)
        _instruments(done, shop, store)
        _calibrations(done, shop, records)
        _held(done, shop, store, records)
        _lots(done, shop, store)
        _bad_and_why(done, shop, store, records)
        _orders(done, shop, store)
        _chains(done, store)
        done.figures["standing"] = {
            one.value: count for one in Standing if (count := len(_rows(store, By.STANDING, one)))
        }
    _charts(done, shop)
    return done


def _rows(store: ShopStore, by: By, *keys: str) -> list[UnitRow]:
    return list(each_unit(store, Filters({by: keys})))


def _serials(rows: Iterable[UnitRow]) -> list[str]:
    return sorted(row.serial for row in rows)


def _made(made: Iterable[Made]) -> list[str]:
    return sorted(one.job.serial for one in made)


def _records(
    done: Audit, shop: Shop, filed: list[UnitRow], records: Mapping[str, UnitRecord]
) -> None:
    """Is every unit on record once, and does each record say what is in the unit?"""
    done.ask("every unit that left a bench is on record once", _serials(filed), _made(shop.made))
    passed = {row.unit_id for row in filed if row.decision == "pass"}
    false = [m for m in shop.made if m.unit_id in passed - shop.rejected and not m.inside]
    done.ask(
        "passed though outside, beside those a check or a calibration took back", _made(false), []
    )
    damaged = [made for made in shop.made if made.job.scale_gain != 1.0]
    oil = {made.job.serial: _oil_error(made, records[made.unit_id]) for made in shop.made}
    done.ask(
        "records whose oil is not the truth within its U, beside those of the damaged scale",
        sorted(s for s, e in oil.items() if abs(e) > 1.0 and s not in _made(damaged)),
        [],
    )
    gas = {made.job.serial: _gas_errors(made, records[made.unit_id]) for made in shop.made}
    done.ask(
        "records whose charge is not the truth within its U and the drift as found",
        sorted(serial for serial, (_, left) in gas.items() if abs(left) > 1.0),
        [],
    )
    hard = [made for made in shop.made if _failed_inside(made, records[made.unit_id])]
    done.ask("failed though inside by more than U", _made(hard), [])
    sound = [error for serial, error in oil.items() if serial not in _made(damaged)]
    done.figures |= {
        "units": len(filed),
        "outside": _made(made for made in shop.made if not made.inside),
        "largest error of oil on record, in U": round(max(map(abs, sound)), 2),
        "largest error of a charge on record, in U": round(max(abs(e) for e, _ in gas.values()), 2),
        "network away": sum(day.unsent for _, _, day in shop.days),
        "failed checks": [(d, b, *y.failed_checks) for d, b, y in shop.days if y.failed_checks],
        "units that had an alarm": len([r for r in records.values() if r.alarms]),
    }
    careless = [made for made in shop.made if made.job.careless_valve]
    alarmed = [made for made in shop.made if records[made.unit_id].alarms]
    done.ask("units with an alarm on record", _made(alarmed), _made(careless))


def _oil_error(made: Made, record: UnitRecord) -> float:
    """Return how far the oil on record is from what is in the unit, in expanded uncertainties."""
    oil = record.oil
    per_kg = oil.net_volume_ref_m3 / oil.net_shown_kg
    return (oil.deviation_kg * per_kg - made.oil_off_m3) / (oil.expanded_kg * per_kg)


def _gas_errors(made: Made, record: UnitRecord) -> tuple[float, float]:
    """Return the same of the charge, and what is left of it once the drift is known."""
    charge = record.charge
    error = charge.settled_gauge_pa - charge.target_gauge_pa - made.gas_off_pa
    known = charge.settled_gauge_pa * (1.0 - 1.0 / made.job.gauge_gain)
    return error / charge.expanded_pa, (error - known) / charge.expanded_pa


def _failed_inside(made: Made, record: UnitRecord) -> bool:
    oil, charge = record.oil, record.charge
    per_kg = oil.net_volume_ref_m3 / oil.net_shown_kg
    sure_oil = abs(made.oil_off_m3) < (oil.tolerance_kg - oil.expanded_kg) * per_kg
    sure_gas = abs(made.gas_off_pa) < charge.tolerance_pa - charge.expanded_pa
    return (oil.decision == FAIL and sure_oil) or (charge.decision == FAIL and sure_gas)


def _shipped(done: Audit, shop: Shop, store: ShopStore, records: Mapping[str, UnitRecord]) -> None:
    """Which units were shipped that should not have been?"""
    left = _rows(store, By.STANDING, *(standing.value for standing in LEFT))
    away = [made for made in shop.made if made.unit_id in shop.shipped]
    done.ask("what left the shop", _serials(left), _made(away))
    outside = {made.unit_id: made for made in shop.made if not made.inside}
    signed, unsigned = [], []
    for row in left:
        if row.unit_id in outside:
            fits = _signed_for(outside[row.unit_id], records[row.unit_id])
            (signed if fits else unsigned).append(row)
    done.ask("shipped outside without a signed deviation for it", _serials(unsigned), [])
    done.figures["shipped outside by a signed deviation"] = _serials(signed)
    rejected = set(_serials(_rows(store, By.STANDING, Standing.SHIPPED_REJECTED.value)))
    found = {one for _, _, day in shop.days for named in day.named.values() for one in named}
    done.ask("shipped, then rejected, for anything but a calibration", sorted(rejected - found), [])
    done.figures["shipped, then rejected for a calibration"] = len(rejected & found)


def _signed_for(made: Made, record: UnitRecord) -> bool:
    """Return True when what is outside was accepted at the step that found it."""
    steps = {deviation.step for deviation in record.deviations}
    return (made.oil_inside or bool(steps & OIL_STEPS)) and (made.gas_inside or "charge" in steps)


def _instruments(done: Audit, shop: Shop, store: ShopStore) -> None:
    """Which units rest on the scale, and on the gauge, that failed, since its last good check?"""
    for title, instrument, bench in (
        ("scale", "scale-1", DEAF_SCALE),
        ("zero", "gauge-1", OFF_ZERO),
    ):
        failed = [b for b in BENCHES if doubt_about(store, instrument, b).failed is not None]
        day = shop.month.events[title]
        so = [m for m in shop.made if m.job.bench == bench and m.job.day == day]
        happened = any(m.job.scale_gain != 1.0 or m.job.knocked_pa for m in so)
        done.ask(f"benches whose {instrument} failed a check", failed, [bench] * happened)
        said = [
            row
            for row in units_since(store, [instrument], limit=MOST)
            if row.bench == bench and row.state == "filed" and bench in failed
        ]
        done.ask(
            f"units worked with {instrument} of {bench} since its last good check",
            _serials(said),
            _made(so) if happened else [],
        )
    damaged = [made for made in shop.made if made.job.scale_gain != 1.0]
    away = [made for made in damaged if made.unit_id in shop.shipped]
    done.ask("of the damaged scale's units that left the shop", _made(away), [])


def _calibrations(done: Audit, shop: Shop, records: Mapping[str, UnitRecord]) -> None:
    """Was what fell due locked, and did its certificate name the units that its drift spoiled?"""
    said = sorted((d, b, *day.named) for d, b, day in shop.days if day.named)
    so = sorted(
        (shop.month.events[f"due {bench}"], bench, instrument)
        for bench, (instrument, _) in DUE.items()
    )
    done.ask("calibrations that fell due, each with its day", said, so)
    words = [word for _, _, day in shop.days for word in day.locked]
    late = [word for word in words if "overdue for calibration" not in word]
    done.ask("instruments that were not locked when theirs was over", late, [])
    named = {one for _, _, day in shop.days for found in day.named.values() for one in found}
    spoiled = [made for made in shop.made if made.job.gauge_gain != 1.0 and not made.gas_inside]
    missed = [made for made in spoiled if made.job.serial not in named]
    done.ask("units that the drift put outside and no calibration named", _made(missed), [])
    near = [made for made in shop.made if _unprovable(made, records[made.unit_id])]
    done.figures |= {
        "units that the calibration names": sorted(named),
        "of them outside indeed": _made(spoiled),
        "inside by less than the guard band, for the drift": _made(near),
        "of these not named": _made(made for made in near if made.job.serial not in named),
    }


def _held(done: Audit, shop: Shop, store: ShopStore, records: Mapping[str, UnitRecord]) -> None:
    """Did the program itself hold all that its instruments put in doubt, and nothing else?"""
    events, jobs = shop.month.events, [made.job for made in shop.made]
    doubted = {j.serial for j in jobs if j.bench == DEAF_SCALE and j.day == events["scale"]}
    doubted |= {j.serial for j in jobs if j.bench == OFF_ZERO and j.day == events["zero"]}
    if not any(job.scale_gain != 1.0 or job.knocked_pa for job in jobs):
        doubted = set()
    doubted |= {one for _, _, day in shop.days for named in day.named.values() for one in named}
    held = {
        made.job.serial
        for made in shop.made
        if any(fact.person == SYSTEM for fact, _ in words_on(store, made.unit_id))
    }
    own = {record.serial for record in records.values() if record.qa_hold}
    done.ask("units in doubt by an instrument that nothing held", sorted(doubted - held - own), [])
    done.ask("held for an instrument without cause", sorted(held - doubted), [])
    done.figures["held by the program for an instrument"] = len(held)


def _unprovable(made: Made, record: UnitRecord) -> bool:
    """Return True when a passed charge is inside, but too near the limit to be passed if known."""
    charge = record.charge
    allowed = charge.tolerance_pa - GUARD_FACTOR * charge.u_pa
    drifted = made.job.gauge_gain != 1.0 and made.gas_inside
    return drifted and charge.decision == PASS and abs(made.gas_off_pa) > allowed


def _lots(done: Audit, shop: Shop, store: ShopStore) -> None:
    """Which delivery is behind what came back, and who has the rest of it?"""
    back = {row.unit_id for row in _rows(store, By.STANDING, Standing.RETURNED.value)}
    kits: Counter[str] = Counter()
    for kit in shop.month.kits.values():
        kits[kit] = sum(row.unit_id in back for row in _rows(store, By.PART, text_key(kit)))
    most = next(iter(dict((+kits).most_common(1))), "")
    done.ask("the kit of most that came back", most, shop.month.bad_kit)
    leaking = [made for made in shop.made if made.job.leak_pa_m3_s]
    recalled = _rows(store, By.PART, text_key(shop.month.bad_kit))
    done.ask("units with that kit", _serials(recalled), _made(leaking))
    for new in NEW_OIL:
        for lot in (new.lot, new.follows):
            said = _rows(store, By.LOT, lot_key(lot))
            so = [made for made in shop.made if made.job.lot == lot]
            done.ask(f"units filled from {lot}", _serials(said), _made(so))


def _bad_and_why(
    done: Audit, shop: Shop, store: ShopStore, records: Mapping[str, UnitRecord]
) -> None:
    """Which units are bad, and why? Of a unit all that speaks against it is named."""
    said: dict[str, set[str]] = {}

    def name(serials: Iterable[str], why: str) -> None:
        for serial in serials:
            said.setdefault(serial, set()).add(why)

    name([r.serial for r in records.values() if r.oil.decision != PASS], "oil")
    name([r.serial for r in records.values() if r.charge.decision != PASS], "charge")
    name(_serials(_rows(store, By.PART, text_key(shop.month.bad_kit))), "seals")
    doubted = units_since(store, ["scale-1"], limit=MOST)
    if doubt_about(store, "scale-1", DEAF_SCALE).failed is not None:
        name(_serials(row for row in doubted if row.bench == DEAF_SCALE), "scale")
    for _, _, day in shop.days:
        for instrument, serials in day.named.items():
            name(serials, instrument.removesuffix("-1"))
    so: dict[str, set[str]] = {}
    for made in shop.made:
        damaged = made.job.scale_gain != 1.0
        whys = {
            "scale" if damaged else "oil": not made.oil_inside,
            "gauge" if made.job.gauge_gain != 1.0 else "charge": not made.gas_inside,
            "seals": made.job.leak_pa_m3_s > 0.0,
        }
        if any(whys.values()):
            so[made.job.serial] = {why for why, true in whys.items() if true}
    missed = {
        serial: sorted(whys - said.get(serial, set()))
        for serial, whys in so.items()
        if whys - said.get(serial, set())
    }
    done.ask("bad units that the workbench does not name with the reason", missed, {})
    for why in ("oil", "charge", "scale", "gauge", "seals"):
        named = sum(why in whys for whys in said.values())
        true = sum(why in whys for whys in so.values())
        done.figures[f"bad or in doubt for {why}"] = f"{named} named, {true} bad"


def _orders(done: Audit, shop: Shop, store: ShopStore) -> None:
    """Is every order worked, and are sets judged as what is in their units demands?"""
    orders = find_orders(store, morning(0))
    worked = {o.order for o in orders if not any(one.state in UNWORKED for one in o.lines)}
    wanted = {made.job.order for made in shop.made}
    done.ask("orders that are worked", sorted(worked), sorted(wanted))
    done.figures["orders"] = len(orders)
    done.figures["of them sets"] = len([order for order in orders if order.matched])


def _charts(done: Audit, shop: Shop) -> None:
    """Whose fills creep, and what did the charts say of it and when?"""
    ranked = who_shifts(shop.charts, shop.month)
    said = ranked[0][0] if ranked else ""
    done.ask("whose fills the charts speak of most", said, CREEPS)
    done.figures["evenings with a shift, later half"] = ranked
    done.figures |= figures_of(shop.charts, shop.month)


def _chains(done: Audit, store: ShopStore) -> None:
    """Is every chain whole, and does the shop hold all of each bench?"""
    found = status_of(store)
    done.ask("chains that are not well", [c.bench for c in found if not c.well], [])
    done.figures["entries"] = {chain.bench: chain.entries for chain in found}
