"""Finding units by what a person types: exact names first, then beginnings, then text anywhere.

Each way to find a unit is read from one index, backwards from where the last page ended, so a page
costs the same among a thousand units and among a million. A unit stands once, at the first way and
place where it is found; within a way the newest come first, within beginnings the highest name.
"""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from enum import IntEnum
from functools import cache
from itertools import islice
from types import MappingProxyType
from typing import Any, Protocol

from sqlalchemy import (
    Column,
    ColumnElement,
    Connection,
    Executable,
    Integer,
    Select,
    String,
    Table,
    and_,
    bindparam,
    cast,
    literal,
    or_,
    select,
    tuple_,
)

from benchstation.domain.materials import text_key
from benchstation.store.chain_store import ChainStore
from benchstation.store.schema import (
    PART_LENGTH,
    evidence,
    text_part,
    unit,
    unit_customer,
    unit_former,
    unit_instrument,
    unit_lot,
    unit_material,
    unit_word,
    utc_from,
    utc_text,
)
from benchstation.store.search_projections import (
    CUSTOMER,
    FAMILY,
    FORMER,
    LOT,
    ORDER,
    PART,
    SERIAL,
    WORD,
    lot_key,
    parts_of,
)
from benchstation.store.unit_rows import COLUMNS, UnitRow

HIGHEST = "\U0010ffff"
"""Sorts behind every text."""
LOWEST = "\x01"
TECHNICIAN, FILED_BY, INSTRUMENT = "technician", "filed_by", "instrument"
EVIDENCE = "evidence"
CHUNK = 64
NO_END = 2**31 - 1
NOBODY: Mapping[str, Any] = MappingProxyType({})
ALWAYS = datetime.min.replace(tzinfo=UTC), datetime.max.replace(tzinfo=UTC)
END = utc_text(ALWAYS[1]), HIGHEST, HIGHEST

Place = tuple[str, ...]
"""Where a row stands within a way, the last parts being its time, unit and bench."""
Names = dict[str, set[str]]
"""What one unit is found by, by its sort."""
Found = tuple[Place, UnitRow]
Conditions = Sequence[ColumnElement[bool]]


class Match(IntEnum):
    """How well a name fits what was typed."""

    EXACT = 0
    BEGINS = 1
    WITHIN = 2


_NAMES: dict[str, Column[Any]] = {
    SERIAL: unit.c.serial_key,
    ORDER: unit.c.order_key,
    LOT: unit_lot.c.lot_key,
    PART: unit_material.c.lot_key,
    TECHNICIAN: unit.c.technician,
    FILED_BY: unit.c.filed_by,
    INSTRUMENT: unit_instrument.c.instrument_id,
    FAMILY: unit.c.family_key,
    WORD: unit_word.c.part,
    FORMER: unit_former.c.name_key,
    CUSTOMER: unit_customer.c.customer_key,
}


def match_of(text: str, names: Iterable[str]) -> Match | None:
    """Return how well a text fits the best of several names; ``None``: it fits none."""
    key, keys = text_key(text.strip()), [text_key(name) for name in names]
    if not key or not any(key in name for name in keys):
        return None
    if key in keys:
        return Match.EXACT
    return Match.BEGINS if any(name.startswith(key) for name in keys) else Match.WITHIN


_LIMIT = bindparam("limit", type_=Integer)
_LEADING: dict[str, tuple[Table, ColumnElement[Any]]] = {
    LOT: (unit_lot, unit_lot.c.lot_key),
    PART: (unit_material, unit_material.c.lot_key),
    INSTRUMENT: (unit_instrument, unit_instrument.c.instrument_id),
    WORD: (unit_word, unit_word.c.part),
    FORMER: (unit_former, unit_former.c.name_key),
    CUSTOMER: (unit_customer, unit_customer.c.customer_key),
    EVIDENCE: (evidence, cast(evidence.c.seq, String) + " " + evidence.c.instrument_id),
}
_IN_STATE = or_(
    bindparam("state", type_=String) == "", unit.c.state == bindparam("state", type_=String)
)


def _same_unit(table: Table) -> ColumnElement[bool]:
    return and_(unit.c.bench == table.c.bench, unit.c.unit_id == table.c.unit_id)


def _behind(*columns: ColumnElement[Any]) -> ColumnElement[bool]:
    return tuple_(*columns) < tuple_(
        *(bindparam(f"last{n}", type_=column.type) for n, column in enumerate(columns))
    )


def _of_key(key: Column[Any]) -> Select[Any]:
    """Select the units whose key lies in a range, from its end."""
    table = key.table
    assert isinstance(table, Table)
    order = key, table.c.sort_utc, table.c.unit_id, table.c.bench
    query = select(key.label("found"), *COLUMNS)
    if table is not unit:
        query = query.join_from(table, unit, _same_unit(table))
    return (
        query.where(key >= bindparam("low"), _behind(*order), _IN_STATE)
        .order_by(*(column.desc() for column in order))
        .limit(_LIMIT)
    )


_BY_NAME = {sort: _of_key(key) for sort, key in _NAMES.items()}
_TIME = unit.c.sort_utc, unit.c.unit_id, unit.c.bench
_BY_TIME = (
    select(literal("").label("found"), *COLUMNS)
    .where(unit.c.sort_utc >= bindparam("low"), _behind(*_TIME))
    .order_by(*(column.desc() for column in _TIME))
    .limit(_LIMIT)
)
_BY_STATE = _BY_TIME.where(unit.c.state == bindparam("state"))
_BY_EVIDENCE = (
    select(evidence.c.seq.label("found"), *COLUMNS)
    .join_from(evidence, unit, _same_unit(evidence))
    .where(
        evidence.c.bench == bindparam("own"),
        evidence.c.instrument_id == bindparam("instrument"),
        evidence.c.seq > bindparam("low"),
        evidence.c.seq < bindparam("last0"),
        _IN_STATE,
    )
    .order_by(evidence.c.seq.desc())
    .limit(_LIMIT)
)
_BY_PART = (
    select(text_part.c.part, text_part.c.key)
    .where(
        text_part.c.sort == bindparam("sort"),
        text_part.c.part < bindparam("end"),
        tuple_(text_part.c.part, text_part.c.key)
        > tuple_(bindparam("part", type_=String), bindparam("name", type_=String)),
    )
    .order_by(text_part.c.part, text_part.c.key)
    .distinct()
    .limit(_LIMIT)
)


class Way(Protocol):
    """One way to find units, in an order of its own."""

    @property
    def start(self) -> Place:
        """Return the place that all rows are behind."""

    def rows(self, connection: Connection, last: Place, state: str) -> Iterator[Found]:
        """Return all rows behind a place, read as they are asked for."""

    def place_of(self, row: UnitRow, names: Names) -> Place | None:
        """Return where a unit stands; ``None``: this way does not find it."""


@dataclass(frozen=True, slots=True)
class ByName:
    """Units with a name of one sort, or (``begins``) with one that begins so and goes on."""

    sort: str
    text: str
    begins: bool = False

    @property
    def start(self) -> Place:
        """Return the place that all rows are behind."""
        return (self.text + HIGHEST * self.begins, *END)

    def rows(self, connection: Connection, last: Place, state: str) -> Iterator[Found]:
        """Return all rows behind a place, read as they are asked for."""
        this = {"low": self.text + LOWEST * self.begins, "state": state}
        return _pages(connection, _BY_NAME[self.sort], this, last)

    def place_of(self, row: UnitRow, names: Names) -> Place | None:
        """Return where a unit stands: at the highest of its names that fit."""
        fitting = [name for name in names[self.sort] if self._fits(name)]
        return (max(fitting), *_place_in_time(row)) if fitting else None

    def _fits(self, name: str) -> bool:
        return name.startswith(self.text) and (name != self.text) is self.begins


@dataclass(frozen=True, slots=True)
class Within:
    """Units with a name of one sort that holds a text, not at its beginning."""

    sort: str
    text: str

    @property
    def start(self) -> Place:
        """Return the place that all rows are behind."""
        return (self._begin, "", *END)

    @property
    def _begin(self) -> str:
        return self.text[:PART_LENGTH]

    def rows(self, connection: Connection, last: Place, state: str) -> Iterator[Found]:
        """Return all rows behind a place, name by name."""
        part, name, *behind = last
        if name:
            yield from self._of_name(connection, part, (name, *behind), state)
        this = {"sort": self.sort, "end": self._begin + HIGHEST, "limit": CHUNK}
        more = True
        while more:
            found = connection.execute(_BY_PART, {**this, "part": part, "name": name}).all()
            more = len(found) == CHUNK
            for part, name in found:
                if self._first_part(name) == part:
                    yield from self._of_name(connection, part, (name, *END), state)

    def _of_name(
        self, connection: Connection, part: str, last: Place, state: str
    ) -> Iterator[Found]:
        for place, row in ByName(self.sort, last[0]).rows(connection, last, state):
            yield (part, *place), row

    def _first_part(self, name: str) -> str:
        """Return the part under which a name is found; empty: it does not hold the text."""
        if self.text not in name[1:]:
            return ""
        return min(part for part in parts_of(name) if part.startswith(self._begin))

    def place_of(self, row: UnitRow, names: Names) -> Place | None:
        """Return where a unit stands: at the first of its names that fit."""
        found = [(part, name) for name in names[self.sort] if (part := self._first_part(name))]
        return (*min(found), *_place_in_time(row)) if found else None


@dataclass(frozen=True, slots=True)
class ByTime:
    """Units that were filed in a time, or changed last in it; without an end all of them."""

    since: datetime = ALWAYS[0]
    until: datetime = ALWAYS[1]

    @property
    def start(self) -> Place:
        """Return the place that all rows are behind."""
        return (utc_text(self.until), "", "") if self.until < ALWAYS[1] else END

    def rows(self, connection: Connection, last: Place, state: str) -> Iterator[Found]:
        """Return all rows behind a place, read as they are asked for."""
        query = _BY_STATE if state else _BY_TIME
        return _pages(connection, query, {"low": self.since, "state": state}, last)

    def place_of(self, row: UnitRow, names: Names) -> Place | None:
        """Return where a unit stands."""
        return _place_in_time(row) if self.since <= row.sort_utc < self.until else None


@dataclass(frozen=True, slots=True)
class ByEvidence:
    """Units of a bench with evidence of an instrument between two entries of its chain."""

    bench: str
    instrument_id: str
    after: int
    before: int = NO_END

    @property
    def start(self) -> Place:
        """Return the place that all rows are behind."""
        return (str(self.before),)

    def rows(self, connection: Connection, last: Place, state: str) -> Iterator[Found]:
        """Return all rows behind a place, read as they are asked for."""
        this = {"own": self.bench, "instrument": self.instrument_id, "low": self.after}
        seq, more = int(last[0]), True
        while more:
            values = {**this, "last0": seq, "state": state, "limit": CHUNK}
            found = connection.execute(_BY_EVIDENCE, values).all()
            more = len(found) == CHUNK
            for seq, *columns in found:
                yield (str(seq),), UnitRow(*columns)

    def place_of(self, row: UnitRow, names: Names) -> Place | None:
        """Return where a unit stands: at its last evidence of that time."""
        seqs = (name.split(" ", 1) for name in names[EVIDENCE])
        own = [int(seq) for seq, instrument_id in seqs if instrument_id == self.instrument_id]
        within = [seq for seq in own if self.after < seq < self.before]
        return (str(max(within)),) if within and row.bench == self.bench else None


def find_units(
    store: ChainStore,
    text: str = "",
    *,
    technicians: Mapping[str, Match] = NOBODY,
    instruments: Mapping[str, Match] = NOBODY,
    period: tuple[datetime, datetime] | None = None,
    state: str = "",
    where: Conditions = (),
    before: str = "",
    limit: int = 50,
) -> list[UnitRow]:
    """Return units that ``text`` names by serial, order, lot or family; all when it is empty.

    ``technicians``, ``instruments``: ids of people and instruments that the text names as well, and
    how well. ``period``: from when to when it means. ``where``: what must hold of each unit found,
    however it was (``filters.conditions``). ``before``: the ``page_key`` of the last row
    of the page before. Raises ``ValueError`` for one that is none.
    """
    key = text_key(text.strip())
    ways: list[Way] = [ByTime()]
    if key:
        ways = list(_ways(key, technicians, instruments, period))
    return page_of(store, ways, state=state, where=where, before=before, limit=limit)


def units_with_lot_named(
    store: ChainStore, lot: str, *, where: Conditions = (), before: str = "", limit: int = 50
) -> list[UnitRow]:
    """Return units that got oil, or anything else, of exactly this lot, whatever its case."""
    ways = ByName(LOT, text_key(lot)), ByName(PART, lot_key(lot))
    return page_of(store, ways, where=where, before=before, limit=limit)


def _ways(
    key: str,
    technicians: Mapping[str, Match],
    instruments: Mapping[str, Match],
    period: tuple[datetime, datetime] | None,
) -> Iterator[Way]:
    for match in Match:
        for sort in (SERIAL, FORMER, ORDER, CUSTOMER, LOT, PART, FAMILY):
            if match is Match.WITHIN:
                yield Within(sort, key)
            else:
                yield ByName(sort, key, match is Match.BEGINS)
        if match is Match.WITHIN:
            yield ByName(WORD, key[:PART_LENGTH], begins=True)
        yield from (ByName(INSTRUMENT, i) for i, how in instruments.items() if how is match)
        for person in (person for person, how in technicians.items() if how is match):
            yield from (ByName(sort, person) for sort in (TECHNICIAN, FILED_BY))
        if match is Match.EXACT and period is not None:
            yield ByTime(*period)


def page_of(
    store: ChainStore,
    ways: Sequence[Way],
    *,
    state: str = "",
    where: Conditions = (),
    before: str = "",
    limit: int = 50,
) -> list[UnitRow]:
    """Return a page of the units that are found by several ways, each unit once."""
    first, last = _page_key(before, ways)
    with store.reading() as connection:
        found = islice(_found(connection, ways, first, last, state, where), limit)
        return [replace(row, page_key=json.dumps([at, *place])) for at, place, row in found]


def _page_key(text: str, ways: Sequence[Way]) -> tuple[int, Place]:
    if not text:
        return 0, ways[0].start
    found = json.loads(text)
    if not isinstance(found, list) or not found or found[0] not in range(len(ways)):
        raise ValueError(f"'{text}' is no place in what was found")
    at, *place = found
    if [type(part) for part in place] != [str] * len(ways[at].start):
        raise ValueError(f"'{text}' is no place in what was found")
    return at, tuple(place)


def _found(
    connection: Connection,
    ways: Sequence[Way],
    first: int,
    last: Place,
    state: str,
    where: Conditions,
) -> Iterator[tuple[int, Place, UnitRow]]:
    fruitful = _fruitful(connection, ways[first:])
    for at in range(first, len(ways)):
        own, earlier = ways[at], ways[:at]
        if own not in fruitful:
            continue
        rows = own.rows(connection, last if at == first else own.start, state)
        before: Place = ()
        while chunk := list(islice(rows, CHUNK)):
            units = [row for _, row in chunk]
            named = _names_of(connection, units, ways[: at + 1])
            fitting = _fitting(connection, units, where)
            for place, row in chunk:
                if fitting is not None and (row.bench, row.unit_id) not in fitting:
                    continue
                names = named[row.bench, row.unit_id]
                # A kit of one lot at two steps is two rows at one place.
                once = place != before and own.place_of(row, names) == place
                if once and not any(way.place_of(row, names) for way in earlier):
                    yield at, place, row
                before = place


def _fitting(
    connection: Connection, rows: Sequence[UnitRow], where: Conditions
) -> set[tuple[str, str]] | None:
    """Return bench and id of those rows of which all of it holds; ``None``: of every one."""
    if not where:
        return None
    these = unit.c.unit_id.in_([row.unit_id for row in rows])
    query = select(unit.c.bench, unit.c.unit_id).where(these, *where)
    return {(row.bench, row.unit_id) for row in connection.execute(query)}


def _fruitful(connection: Connection, ways: Sequence[Way]) -> Sequence[Way]:
    """Return the ways that find anything, asked all at once: each question costs a round trip."""
    asked = [way for way in ways if isinstance(way, ByName | Within)]
    if len(asked) < 2:
        return ways
    given: dict[str, str] = {}
    for n, way in enumerate(asked):
        low, *_ = way.start
        given |= {f"low{n}": low, f"end{n}": low + HIGHEST}
        if isinstance(way, ByName):
            given[f"low{n}"] = way.text + LOWEST * way.begins
            given[f"end{n}"] = way.text + HIGHEST * way.begins
    shape = tuple((way.sort, isinstance(way, Within)) for way in asked)
    there = connection.execute(_any(shape), given).one()
    idle = [way for way, found in zip(asked, there, strict=True) if not found]
    return [way for way in ways if way not in idle]


@cache
def _any(shape: tuple[tuple[str, bool], ...]) -> Executable:
    """Select for several ways whether there is any name in the range of each."""
    found = []
    for n, (sort, within) in enumerate(shape):
        name = text_part.c.part if within else _NAMES[sort]
        low, end = bindparam(f"low{n}", type_=String), bindparam(f"end{n}", type_=String)
        one = select(name).where(name >= low, name <= end)
        if within:
            one = one.where(text_part.c.sort == sort)
        found.append(one.exists().label(f"found{n}"))
    return select(*found)


def _names_of(
    connection: Connection, rows: Sequence[UnitRow], ways: Sequence[Way]
) -> dict[tuple[str, str], Names]:
    found: dict[tuple[str, str], Names] = {
        (row.bench, row.unit_id): {
            SERIAL: {text_key(row.serial)},
            ORDER: {text_key(row.order)},
            FAMILY: {text_key(row.family)},
            TECHNICIAN: {row.technician},
            FILED_BY: {row.filed_by},
        }
        for row in rows
    }
    asked = {way.sort for way in ways if isinstance(way, ByName | Within)}
    asked |= {EVIDENCE} if any(isinstance(way, ByEvidence) for way in ways) else set()
    for sort, (table, name) in _LEADING.items():
        if sort not in asked:
            continue
        for names in found.values():
            names[sort] = set()
        query = select(table.c.bench, table.c.unit_id, name).where(
            table.c.bench.in_(sorted({bench for bench, _ in found})),
            table.c.unit_id.in_([unit_id for _, unit_id in found]),
        )
        for bench, unit_id, value in connection.execute(query):
            # Two benches might name a unit alike.
            if (bench, unit_id) in found:
                found[bench, unit_id][sort].add(value)
    return found


def _pages(
    connection: Connection, query: Select[Any], this: dict[str, Any], last: Place
) -> Iterator[Found]:
    """Return all rows of a query behind a place, chunk by chunk."""
    more = True
    while more:
        *name, utc, unit_id, bench = last
        values = [*name, utc_from(utc), unit_id, bench]
        behind = {f"last{n}": value for n, value in enumerate(values)}
        found = connection.execute(query, {**this, **behind, "limit": CHUNK}).all()
        more = len(found) == CHUNK
        for key, *columns in found:
            row = UnitRow(*columns)
            last = (*([key] if name else []), *_place_in_time(row))
            yield last, row


def _place_in_time(row: UnitRow) -> Place:
    return utc_text(row.sort_utc), row.unit_id, row.bench
