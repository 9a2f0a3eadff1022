"""Finding units that are all of several things at once: exact names, marks, instruments, a time.

The rarest of what is asked, counted so far only, leads from its own index; the rest is looked up
for each unit it leads to. So many are looked at for a page and no more: the work is bounded however
many units there are, and a page that ends early says where the next one begins.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import (
    Column,
    ColumnElement,
    Connection,
    FromClause,
    Select,
    Table,
    and_,
    func,
    literal,
    select,
    tuple_,
    union_all,
)

from benchstation.domain.materials import text_key
from benchstation.store import unit_marks
from benchstation.store.chain_store import ChainStore
from benchstation.store.schema import (
    unit,
    unit_customer,
    unit_former,
    unit_instrument,
    unit_lot,
    unit_mark,
    unit_material,
    utc_from,
    utc_text,
)
from benchstation.store.search import HIGHEST
from benchstation.store.unit_rows import COLUMNS, UnitRow

LOOKED_AT = 4_000
"""So many units are looked at in one question of the database."""
COUNTED_TO_LEAD = 3_000
"""So far each of several filters is counted in its index, to begin with the rarest."""
LOOKS = 4
"""So many questions a page asks at most once it has found anything."""
SIMPLY_COUNTED = 5_000
MOST_NAMES = 20


class By(StrEnum):
    """What a unit is found by. Its value is the sort of the mark where it is one."""

    UNIT = "unit"
    SERIAL = "serial"
    ORDER = "order"
    FAMILY = "family"
    LOT = "lot"
    PART = "part"
    INSTRUMENT = "instrument"
    STATE = "state"
    OPENED = "opened"
    FILED = "filed"
    SIGNED = unit_marks.SIGNED
    ACCEPTED = unit_marks.ACCEPTED
    DEVIATION = unit_marks.DEVIATION
    VERDICT = unit_marks.VERDICT
    STANDING = "standing"
    CUSTOMER = "customer"


_COLUMNS: dict[By, Column[Any]] = {
    By.UNIT: unit.c.unit_id,
    By.SERIAL: unit.c.serial_key,
    By.ORDER: unit.c.order_key,
    By.FAMILY: unit.c.family_key,
    By.STATE: unit.c.state,
    By.OPENED: unit.c.technician,
    By.FILED: unit.c.filed_by,
    By.STANDING: unit.c.standing,
    By.CUSTOMER: unit_customer.c.customer_key,
    By.LOT: unit_lot.c.lot_key,
    By.PART: unit_material.c.lot_key,
    By.INSTRUMENT: unit_instrument.c.instrument_id,
}
_NAMED = (By.SERIAL, By.ORDER, By.FAMILY, By.LOT, By.PART, By.CUSTOMER)
"""What has a name that may be begun only."""


@dataclass(frozen=True, slots=True)
class Filters:
    """What units must all be: of each sort one of its keys, and changed last in a time.

    ``without_deviation``: nothing of them was accepted outside its limits.
    """

    keys: Mapping[By, tuple[str, ...]] = field(default_factory=dict)
    since: datetime | None = None
    until: datetime | None = None
    without_deviation: bool = False


@dataclass(frozen=True, slots=True)
class Count:
    """How many units there are; ``more``: at least so many, for not all were looked at."""

    units: int
    more: bool = False


def _source(by: By) -> tuple[Table, ColumnElement[Any], list[ColumnElement[bool]]]:
    """Return the table that leads to the units, the column of the key, and what holds beside."""
    column = _COLUMNS.get(by)
    if column is None:
        return unit_mark, unit_mark.c.key, [unit_mark.c.sort == literal(by.value)]
    assert isinstance(column.table, Table)
    return column.table, column, []


def names_begun(store: ChainStore, by: By, text: str) -> list[str]:
    """Return the one name that is the text whole, else those that begin so, at most a few.

    Each name costs one step in an index, however many units have it. Of what has no names that
    are begun, such as a state, the text itself is the name.
    """
    if by not in _NAMED:
        return [text]
    table, column, beside = _source(by)
    found: list[str] = []
    with store.reading() as connection:

        def least(*where: ColumnElement[bool]) -> str | None:
            query = select(column).select_from(table).where(*beside, *where)
            name: str | None = connection.execute(query.order_by(column).limit(1)).scalar()
            return name

        if least(column == text) is not None:
            return [text]
        name, end = least(column >= text, column < text + HIGHEST), text + HIGHEST
        while name is not None and len(found) <= MOST_NAMES:
            found.append(name)
            name = least(column > name, column < end)
    return found


def now_called(store: ChainStore, serial: str) -> list[str]:
    """Return the serials, as keys, that units have now which were filed under this one."""
    former = select(unit.c.serial_key, unit.c.serial_as_filed).join_from(
        unit_former, unit, _same(unit_former)
    )
    with store.reading() as connection:
        rows = connection.execute(former.where(unit_former.c.name_key == serial).limit(MOST_NAMES))
        # A former order of this name leads nowhere here.
        return [row.serial_key for row in rows if text_key(row.serial_as_filed) == serial]


def _stream(
    by: By | None, key: str, filters: Filters, limit: int, behind: Sequence[Any] = ()
) -> Select[Any]:
    """Select place after place from one index, the newest first."""
    table: Table = unit
    where: list[ColumnElement[bool]] = []
    if by is not None:
        table, column, beside = _source(by)
        where = [*beside, column == key]
    place = table.c.sort_utc, table.c.unit_id, table.c.bench
    if filters.since is not None:
        where.append(table.c.sort_utc >= filters.since)
    if filters.until is not None:
        where.append(table.c.sort_utc < filters.until)
    if behind:
        last = [literal(value, c.type) for value, c in zip(behind, place, strict=True)]
        where.append(tuple_(*place) < tuple_(*last))
    query = select(*place).where(*where).order_by(*(column.desc() for column in place))
    # One lot fitted at two steps is two rows of one unit.
    return (query.distinct() if table is unit_material else query).limit(limit)


def _all_of(by: By | None, filters: Filters, limit: int, behind: Sequence[Any] = ()) -> Select[Any]:
    """Select the newest places of any of the keys."""
    keys = filters.keys[by] if by is not None else ("",)
    some = [_stream(by, key, filters, limit, behind).subquery() for key in keys]
    if len(some) == 1:
        return select(*some[0].c)
    every = union_all(*(select(*one.c) for one in some)).subquery()
    query = select(*every.c).distinct()
    return query.order_by(*(column.desc() for column in every.c)).limit(limit)


def _not_implied(filters: Filters) -> dict[By, tuple[str, ...]]:
    """Return the keys without that there is a deviation, where it is asked who accepted one."""
    keys = dict(filters.keys)
    if By.ACCEPTED in keys and keys.get(By.DEVIATION) == (unit_marks.YES,):
        del keys[By.DEVIATION]
    return keys


def _rest(filters: Filters, by: By | None, places: FromClause) -> list[ColumnElement[bool]]:
    """Return what else must hold of the places that one sort led to.

    Each is looked for where the index of its own key has that time: places come in the order of
    every such index, so neighbours are found together. By their ids units lie anywhere.
    """
    found: list[ColumnElement[bool]] = []
    for other, keys in _not_implied(filters).items():
        if other is not by:
            table, column, beside = _source(other)
            found.append(_stands(places, table, [*beside, column.in_(keys)]))
    if filters.without_deviation:
        marked = unit_mark.c.sort == By.DEVIATION.value, unit_mark.c.key == unit_marks.YES
        found.append(~_stands(places, unit_mark, marked))
    return found


def _stands(
    places: FromClause, table: Table, where: Sequence[ColumnElement[bool]]
) -> ColumnElement[bool]:
    # An equal bench or id would lead through the primary key; one in a range of itself does not.
    same = (
        table.c.sort_utc == places.c.sort_utc,
        table.c.unit_id.between(places.c.unit_id, places.c.unit_id),
        table.c.bench.between(places.c.bench, places.c.bench),
    )
    return select(literal(1)).where(*where, *same).correlate(places).exists()


def conditions(filters: Filters) -> list[ColumnElement[bool]]:
    """Return what must hold of a row of ``unit``, whichever way it was found."""
    found: list[ColumnElement[bool]] = []
    for by, keys in filters.keys.items():
        table, column, beside = _source(by)
        fits = column.in_(keys)
        if table is unit:
            found.append(fits)
        else:
            found.append(select(literal(1)).where(_same(table), *beside, fits).exists())
    if filters.without_deviation:
        marked = select(literal(1)).where(_same(unit_mark), unit_mark.c.sort == By.DEVIATION.value)
        found.append(~marked.exists())
    if filters.since is not None:
        found.append(unit.c.sort_utc >= filters.since)
    if filters.until is not None:
        found.append(unit.c.sort_utc < filters.until)
    return found


def _is_more(filters: Filters, by: By | None) -> bool:
    return filters.without_deviation or any(other is not by for other in _not_implied(filters))


def _same(table: Table) -> ColumnElement[bool]:
    return and_(table.c.bench == unit.c.bench, table.c.unit_id == unit.c.unit_id)


def _leading(connection: Connection, filters: Filters) -> By | None:
    """Return the rarest of what is asked, all counted in one question; ``None``: time alone."""
    sorts = list(_not_implied(filters))
    if len(sorts) < 2:
        return sorts[0] if sorts else None
    counts = [
        select(func.count())
        .select_from(_all_of(by, filters, COUNTED_TO_LEAD).subquery())
        .scalar_subquery()
        .label(f"n{n}")
        for n, by in enumerate(sorts)
    ]
    numbers = connection.execute(select(*counts)).one()
    return min(zip(numbers, sorts, strict=True))[1]


def units_that(
    store: ChainStore, filters: Filters, *, before: str = "", limit: int = 50
) -> list[UnitRow]:
    """Return a page of the units that are all of it, the newest first.

    ``before``: the ``page_key`` of the last row of the page before. A row's key is empty when no
    unit is behind it. Raises ``ValueError`` for a key that is none.
    """
    behind = _place(before)
    with store.reading() as connection:
        found: list[UnitRow] = []
        last: Sequence[Any] | None = None
        by = _leading(connection, filters)
        # Where nothing else must hold, what is looked at is what is shown.
        some = 4 * limit if _is_more(filters, by) else limit + 1
        looks = _looks(connection, filters, by, behind, some, limit + 1)
        for number, (rows, last) in enumerate(looks, 1):  # noqa: B007
            found += rows
            if len(found) > limit or (found and number >= LOOKS):
                break
    page = [replace(row, page_key=_key(row)) for row in found[:limit]]
    if page and len(found) <= limit:
        page[-1] = replace(page[-1], page_key="" if last is None else json.dumps(_texts(last)))
    return page


def each_unit(store: ChainStore, filters: Filters) -> Iterator[UnitRow]:
    """Return all units that are all of it, the newest first, read as they are taken."""
    behind: Sequence[Any] | None = ()
    with store.reading() as connection:
        by = _leading(connection, filters)
    while behind is not None:
        with store.reading() as connection:
            rows, behind = next(_looks(connection, filters, by, behind, LOOKED_AT, LOOKED_AT))
        yield from rows


def _looks(
    connection: Connection,
    filters: Filters,
    by: By | None,
    behind: Sequence[Any],
    some: int,
    most: int,
) -> Iterator[tuple[list[UnitRow], Sequence[Any] | None]]:
    """Return at most so many that each look finds, and the place of its end; ``None``: the end."""
    newest = [column.desc() for column in (unit.c.sort_utc, unit.c.unit_id, unit.c.bench)]
    while True:
        places = _all_of(by, filters, some, behind).subquery()
        order = [column.desc() for column in places.c]
        last = connection.execute(
            select(*places.c).order_by(*order).offset(some - 1).limit(1)
        ).first()
        fits = select(*places.c).where(*_rest(filters, by, places)).order_by(*order)
        that = fits.limit(most).subquery()
        same = and_(unit.c.bench == that.c.bench, unit.c.unit_id == that.c.unit_id)
        query = select(*COLUMNS).join_from(that, unit, same).order_by(*newest)
        rows = [UnitRow(**row) for row in connection.execute(query).mappings()]
        yield rows, None if last is None else tuple(last)
        if last is None:
            return
        behind, some = tuple(last), min(4 * some, LOOKED_AT)


def count_of(store: ChainStore, filters: Filters) -> Count:
    """Count the units that are all of it, as far as that is quick."""
    with store.reading() as connection:
        by = _leading(connection, filters)
        if not _is_more(filters, by):
            some = _all_of(by, filters, SIMPLY_COUNTED + 1).subquery()
            found = connection.execute(select(func.count()).select_from(some)).scalar_one()
            return Count(min(found, SIMPLY_COUNTED), found > SIMPLY_COUNTED)
        places = _all_of(by, filters, LOOKED_AT + 1).subquery()
        fits = select(literal(1)).select_from(places).where(*_rest(filters, by, places))
        all_places = select(func.count()).select_from(places).scalar_subquery()
        that = select(func.count()).select_from(fits.subquery()).scalar_subquery()
        every, found = connection.execute(select(all_places, that)).one()
        return Count(found, every > LOOKED_AT)


def _key(row: UnitRow) -> str:
    return json.dumps([utc_text(row.sort_utc), row.unit_id, row.bench])


def _texts(place: Sequence[Any]) -> list[str]:
    return [utc_text(place[0]), *place[1:]]


def _place(text: str) -> Sequence[Any]:
    if not text:
        return ()
    found = json.loads(text)
    if not isinstance(found, list) or [type(part) for part in found] != [str] * 3:
        raise ValueError(f"'{text}' is no place in what was found")
    return utc_from(found[0]), *found[1:]
