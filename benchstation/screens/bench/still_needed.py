"""What a bench still needs before its first unit, each with the page on which it comes."""

from collections.abc import Iterator
from datetime import date

from benchstation.bench.instrument_checks import suitable_weights
from benchstation.bench.session import BenchSession
from benchstation.bench.shop import Shop
from benchstation.domain.air_evidence import AirQuantity
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.materials import Sort
from benchstation.domain.people import Role
from benchstation.domain.wanted_materials import wanted_by

NAMED = 4
"""So many numbers of kits or parts are named; the others are counted."""


def to_start(shop: Shop, today: date) -> list[str]:
    """Return what must be there before a unit can be chosen at all."""
    missing = []
    if not shop.current_specifications():
        approvers = [p for p in list(shop.people.values()) if p.has(Role.LEAD, Role.QA)]
        if len(approvers) < 2:
            missing.append(
                "A second bench lead or QA, enrolled on People (F7): "
                "whoever writes a specification does not approve it."
            )
        missing.append(
            "A specification in force: a lead drafts it on Specifications (F5); "
            "another lead or QA approves it."
        )
    if not shop.open_lots(today):
        grades = dict.fromkeys(s.oil.grade for s in shop.current_specifications())
        oil = f" of {' or '.join(grades)}" if grades else ""
        missing.append(f"An oil lot{oil}: a lead receives it on Materials (F11).")
    return missing


def to_finish(session: BenchSession) -> list[str]:
    """Return what no unit gets past without: calibrations, check weights, kits, parts, wrenches."""
    return [*_calibrations(session), *_weights(session), *_materials(session)]


def of_the_air(session: BenchSession) -> list[str]:
    """Return the figures of the air that nobody and nothing has read yet."""
    air, now = session.known_air, session.moment()
    unread = [
        str(quantity)
        for quantity in (AirQuantity.TEMPERATURE, AirQuantity.PRESSURE)
        if air.evidence(quantity, session.instruments, now).why_not(now.utc, air.limits)
    ]
    if not unread:
        return []
    said = f"The {' and the '.join(unread)}, read here"
    return [f"{said}: typed on Start of the day (Shift+F2), or by an instrument (F6)."]


def _calibrations(session: BenchSession) -> Iterator[str]:
    instruments, today = session.instruments, session.today
    for fitted in (*instruments.of(InstrumentRole.SCALE), *instruments.gauges_in_path):
        until = fitted.registered.calibrated_until
        if not until or date.fromisoformat(until) < today:
            yield (
                f"A calibration of {fitted.registered.title} in force: a lead types its "
                "certificate on Instruments (F6)."
            )


def _weights(session: BenchSession) -> Iterator[str]:
    stock, today = session.shop.stock, session.today
    for fitted in session.instruments.of(InstrumentRole.SCALE):
        if fitted.checked_daily and not suitable_weights(stock, fitted, today):
            yield (
                f"A check weight for {fitted.registered.title}, checked each day: "
                "a lead receives it on Materials (F11)."
            )


def _materials(session: BenchSession) -> Iterator[str]:
    stock, today = session.shop.stock, session.today
    steps = [step for s in session.shop.current_specifications() for step in s.steps]
    wanted = dict.fromkeys((w.sort, w.number) for step in steps for w in wanted_by(step))
    for sort in Sort:
        numbers = [
            number
            for of, number in wanted
            if of is sort and not any(not stock.why_not(m, today) for m in stock.of(sort, number))
        ]
        if not numbers:
            continue
        more = f" and {len(numbers) - NAMED} more" if len(numbers) > NAMED else ""
        named = ", ".join(n for n in numbers[:NAMED] if n) + more
        what = f"{sort.capitalize()} {named}".strip() if named else f"A {sort}"
        yield f"{what}: received on Materials (F11), or at its step."
