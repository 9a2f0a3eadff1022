"""Finding units again. Callable from any thread; every call reads one snapshot.

A store answers for every bench whose entries it holds: a bench's own file for that bench, the
database of a shop for all. A unit is known by its bench and its id.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import (
    ColumnElement,
    FromClause,
    Select,
    and_,
    case,
    func,
    select,
    tuple_,
)

from benchstation.domain.events import InstrumentRegistered, TareProven, UnitFiled
from benchstation.domain.materials import Sort, text_key
from benchstation.domain.unit_record import UnitRecord, record_in
from benchstation.store.chain_order import in_opened_order
from benchstation.store.chain_store import ChainStore
from benchstation.store.column_limits import serial_key
from benchstation.store.errors import NotOnRecordError
from benchstation.store.journal import entry_of, read
from benchstation.store.newest import newest_of
from benchstation.store.projections import TYPED, instruments_of
from benchstation.store.schema import (
    journal,
    unit,
    unit_instrument,
    unit_lot,
    unit_material,
)
from benchstation.store.search_projections import lot_key
from benchstation.store.unit_rows import COLUMNS, FILED, UnitRow

MOST = 2_000
"""Units are counted so far; a search that finds more says so, and its list has the number."""
MOST_USED = 1_000
"""So many units of a kit, part or wrench are counted."""
LATEST = 50
"""So many units of a family are looked through for the last that has parts."""


@dataclass(frozen=True, slots=True)
class LotUse:
    """What an oil lot was used for: units that have it, those with oil judged, their net oil.

    A unit with oil of several lots counts for each; its oil is ``shared`` and not in the sum.
    """

    units: int
    weighed: int
    net_oil_kg: float
    shared: int = 0


_IS_PART = unit_material.c.sort == Sort.PART.value


def earlier_rebuilds(store: ChainStore, serial: str) -> list[UnitRow]:
    """Return every rebuild of a serial, whatever its case, the last that was opened first."""
    query = select(*COLUMNS).where(unit.c.serial_key == serial_key(serial))
    with store.reading() as connection:
        rows = in_opened_order(connection.execute(query).mappings())
    return [UnitRow(**row) for row in reversed(rows)]


def units_with_lot(store: ChainStore, lot: str) -> list[UnitRow]:
    """Return every unit with oil of a lot in it, or opened with it, the newest first."""
    same = unit_lot.c.lot_key == text_key(lot), unit_lot.c.lot == lot
    got = select(unit_lot.c.bench, unit_lot.c.unit_id).where(*same)
    return _rows(store, _newest_first().where(_among(got)))


def units_with_material(store: ChainStore, sort: str, number: str, lot: str) -> list[UnitRow]:
    """Return every unit that got a material, whatever its case, the newest first.

    An empty number fits any; so does what was typed under a label before lots were chosen.
    """
    got = _with_lot(lot).where(unit_material.c.sort.in_((sort, TYPED)))
    if number:
        # A kit that a step asked for without its number is this one too.
        got = got.where(func.lower(unit_material.c.number).in_((number.lower(), "")))
    return _rows(store, _newest_first().where(_among(got)))


def units_with_part_lot(store: ChainStore, lot: str) -> list[UnitRow]:
    """Return every unit that got anything of this lot, whatever its case, the newest first."""
    return _rows(store, _newest_first().where(_among(_with_lot(lot))))


def units_with_notice(store: ChainStore, limit: int) -> list[UnitRow]:
    """Return shipped units whose customer is to be told of something, at most so many."""
    by_notice = unit.c.notice, unit.c.sort_utc, unit.c.unit_id, unit.c.bench
    query = select(*COLUMNS).where(unit.c.notice > "")
    return _rows(store, query.order_by(*(key.desc() for key in by_notice)).limit(limit))


def _with_lot(lot: str) -> Select[Any]:
    same = unit_material.c.lot_key == lot_key(lot)
    return select(unit_material.c.bench, unit_material.c.unit_id).where(same)


def _among(units: Select[Any]) -> ColumnElement[bool]:
    """Tell whether a unit is one of those that a query of bench and id selects."""
    return tuple_(unit.c.bench, unit.c.unit_id).in_(units)


def last_part_lots(store: ChainStore, family: str) -> tuple[str, dict[str, str]]:
    """Return serial of the last filed unit of a family that has parts, and their lots by number.

    Both are empty when there is none among the last :data:`LATEST`.
    """
    filed = (
        select(unit.c.bench, unit.c.unit_id, unit.c.serial, unit.c.sort_utc)
        .where(unit.c.family_key == text_key(family), unit.c.family == family)
        .where(unit.c.bench == store.bench, FILED)
        .order_by(unit.c.sort_utc.desc(), unit.c.unit_id.desc())
        .limit(LATEST)
        .subquery()
    )
    parts = select(unit_material.c.input).where(_same_unit(unit_material, filed), _IS_PART)
    last = select(filed).where(parts.exists())
    last = last.order_by(filed.c.sort_utc.desc(), filed.c.unit_id.desc()).limit(1)
    with store.reading() as connection:
        found = connection.execute(last).first()
        if found is None:
            return "", {}
        lots = select(unit_material.c.number, unit_material.c.lot).where(
            unit_material.c.bench == found.bench,
            unit_material.c.unit_id == found.unit_id,
            unit_material.c.lot != "",
            _IS_PART,
        )
        return found.serial, {row.number: row.lot for row in connection.execute(lots)}


def use_of_materials(store: ChainStore, lots: Collection[str]) -> dict[tuple[str, str, str], int]:
    """Return in how many units kits, parts and wrenches of these lots are, by sort, number, lot.

    A wrench is in every unit of a shop: each lot is counted to one more than :data:`MOST_USED`.
    """
    columns = unit_material.c.sort, unit_material.c.number, unit_material.c.lot_key
    found: dict[tuple[str, str, str], int] = {}
    with store.reading() as connection:
        for key in sorted({lot_key(lot) for lot in lots}):
            units = (
                select(*columns, unit_material.c.bench, unit_material.c.unit_id)
                .where(unit_material.c.lot_key == key, unit_material.c.sort != TYPED)
                .distinct()
                .limit(MOST_USED + 1)
                .subquery()
            )
            same = units.c.sort, units.c.number, units.c.lot_key
            for sort, number, lot, count in connection.execute(
                select(*same, func.count()).group_by(*same)
            ):
                this = sort, text_key(number), lot
                found[this] = found.get(this, 0) + count
    return found


def use_of_lots(store: ChainStore, lots: Collection[str]) -> dict[str, LotUse]:
    """Return what each of these oil lots was used for, by its name; without one of no unit.

    Of each only the units with it are read, however many others there are.
    """
    other = unit_lot.alias()
    count = (
        select(func.count())
        .select_from(other)
        .where(_same_unit(other, unit_lot))
        .scalar_subquery()
        .label("lots")
    )
    used = (
        select(unit_lot.c.lot, unit.c.net_oil_kg, count)
        .join(unit, _same_unit(unit, unit_lot))
        .where(unit_lot.c.lot_key.in_({text_key(lot) for lot in lots}))
        .subquery()
    )
    alone = case((used.c.lots == 1, used.c.net_oil_kg))
    query = select(
        used.c.lot,
        func.count(),
        func.count(alone),
        func.coalesce(func.sum(alone), 0.0),
        func.count(case((used.c.lots > 1, 1))),
    ).group_by(used.c.lot)
    with store.reading() as connection:
        return {lot: LotUse(*counts) for lot, *counts in connection.execute(query)}


def _same_unit(one: FromClause, other: FromClause) -> ColumnElement[bool]:
    return and_(one.c.bench == other.c.bench, one.c.unit_id == other.c.unit_id)


def units_with_instrument(store: ChainStore, instrument_id: str) -> list[UnitRow]:
    """Return every unit whose record rests on an instrument, the newest first."""
    return _rows(store, _newest_first().where(_among(resting_on([instrument_id]))))


def count_with_instrument(store: ChainStore, instrument_id: str) -> int:
    """Count the units whose record rests on an instrument, up to one more than :data:`MOST`."""
    some = resting_on([instrument_id]).limit(MOST + 1)
    query = select(func.count()).select_from(some.subquery())
    with store.reading() as connection:
        return connection.execute(query).scalar_one()


def resting_on(instruments: Sequence[str]) -> Select[Any]:
    """Select bench and id of the units whose records rest on any of these instruments."""
    columns = unit_instrument.c.bench, unit_instrument.c.unit_id
    return select(*columns).where(unit_instrument.c.instrument_id.in_(instruments))


def instruments_behind(store: ChainStore, unit_id: str) -> list[InstrumentRegistered]:
    """Return every instrument that a unit's facts rest on, as it was registered at the time."""
    found: dict[int, InstrumentRegistered] = {}
    with store.reading() as connection:
        same = select(unit.c.bench).where(unit.c.unit_id == unit_id).order_by(*_own_first(store))
        bench = connection.execute(same).scalar() or store.bench
        registered = read(connection, bench, kind=InstrumentRegistered.kind)
        facts = read(connection, bench, unit_id=unit_id)
    for entry in facts:
        for name in sorted(instruments_of(entry.event)):
            for known in reversed(registered):
                event = known.event
                assert isinstance(event, InstrumentRegistered)
                if known.seq < entry.seq and event.instrument_id == name:
                    found[known.seq] = event
                    break
    return [found[seq] for seq in sorted(found)]


def standing_load_kg(store: ChainStore, instrument_id: str) -> float:
    """Return the load at which a scale shows zero: that of its last tare; 0 before the first."""
    for entry in newest_of(store, TareProven):
        if isinstance(entry.event, TareProven) and entry.event.instrument_id == instrument_id:
            return entry.event.load_kg or 0.0
    return 0.0


def get_unit(store: ChainStore, unit_id: str) -> UnitRow:
    """Return one unit. Raises :class:`NotOnRecordError`."""
    query = select(*COLUMNS).where(unit.c.unit_id == unit_id).order_by(*_own_first(store))
    found = _rows(store, query)
    if not found:
        raise _unknown(f"no rebuild '{unit_id}' is on record.")
    return found[0]


def filed_of_order(store: ChainStore, order: str) -> list[str]:
    """Return the filed units of an order, in the order in which they were opened."""
    query = select(unit.c.unit_id).where(
        unit.c.order_key == text_key(order.strip()), FILED, unit.c.order != ""
    )
    with store.reading() as connection:
        return list(connection.execute(query.order_by(unit.c.opened_utc)).scalars())


def record_of(store: ChainStore, unit_id: str) -> UnitRecord:
    """Return a filed unit's record. Raises :class:`NotOnRecordError`."""
    filed = (journal.c.bench == unit.c.bench) & (journal.c.seq == unit.c.filed_seq)
    query = select(journal).join(unit, filed).where(unit.c.unit_id == unit_id)
    query = query.order_by(*_own_first(store))
    with store.reading() as connection:
        row = connection.execute(query).first()
    if row is None:
        raise _unknown(f"the rebuild '{unit_id}' has no filed record.")
    event = entry_of(row).event
    assert isinstance(event, UnitFiled)
    return record_in(event.record)


def _own_first(store: ChainStore) -> tuple[ColumnElement[Any], ...]:
    return case((unit.c.bench == store.bench, 0), else_=1), unit.c.bench


def _newest_first() -> Select[Any]:
    keys = unit.c.sort_utc, unit.c.unit_id, unit.c.bench
    return select(*COLUMNS).order_by(*(key.desc() for key in keys))


def _rows(store: ChainStore, query: Select[Any]) -> list[UnitRow]:
    with store.reading() as connection:
        return [UnitRow(**row) for row in connection.execute(query).mappings()]


def _unknown(what: str) -> NotOnRecordError:
    return NotOnRecordError(what, where="records", advice="Search for it by serial.")
