"""Reading what charts are drawn from: a group's last units, its names, its yield, its checks.

A group's units stand side by side under one key, newest last, so that its last 500 cost the same
among a thousand units and among a million.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import (
    Column,
    ColumnElement,
    CompoundSelect,
    Connection,
    Integer,
    Select,
    String,
    Table,
    and_,
    bindparam,
    cast,
    exists,
    func,
    select,
    type_coerce,
    union,
)

from benchstation.domain.disposition import Standing
from benchstation.domain.events import InstrumentChecked
from benchstation.domain.materials import Sort, text_key
from benchstation.domain.quality import Figure, Quantity
from benchstation.store.chain_store import ChainStore
from benchstation.store.figure_projections import (
    ALL,
    AT,
    BENCH,
    CHARGE_BY,
    INSTRUMENT,
    LOT,
    OIL_BY,
)
from benchstation.store.journal import entry_of
from benchstation.store.schema import (
    figure_group,
    instrument,
    instrument_check,
    journal,
    unit,
    unit_deviation,
    unit_figure,
    unit_lot,
    unit_material,
    utc_from,
)
from benchstation.store.search_projections import LONGEST_LOT

MOST_NAMES = 200
"""So many names of a sort are listed; one beyond them can be typed."""
MOST_UNITS = 500
LOOKED_THROUGH = 1_000
"""Among so many of a group's last units those with a figure are looked for, and not among all: a
group whose units have none would be read from end to end each time."""


class By:
    """The sorts of groups that a chart can be of."""

    ALL, BENCH, INSTRUMENT, LOT, TECHNICIAN = ALL, BENCH, INSTRUMENT, LOT, "technician"


@dataclass(frozen=True, slots=True)
class Group:
    """Whose units: of a family (empty: of all), and within it of one name of a sort."""

    family: str = ""
    by: str = By.ALL
    name: str = ""

    def sort(self, quantity: Quantity) -> str:
        """Return the sort of the rows; a technician's are by whose step the figure is."""
        if self.by != By.TECHNICIAN:
            return self.by
        return OIL_BY if quantity is Quantity.OIL else CHARGE_BY


@dataclass(frozen=True, slots=True)
class Yield:
    """How many units ended in a time, given up ones with them, and how many right the first time.

    Right the first time: decided pass, no step reopened, no deviation, nothing judged fail.
    """

    units: int
    first_pass: int


@dataclass(frozen=True, slots=True)
class CheckFigure:
    """A check of an instrument: when, what it was, and the error found, SI."""

    utc: datetime
    check: str
    nominal: float
    error: float
    tolerance: float
    passed: bool


_G, _F = figure_group.c, unit_figure.c
_VALUES: dict[Quantity, tuple[Column[float], ...]] = {
    Quantity.OIL: (_F.oil_kg, _F.oil_target_kg, _F.oil_tolerance_kg, _F.oil_u_kg),
    Quantity.CHARGE: (
        _F.charge_pa,
        _F.charge_target_pa,
        _F.charge_tolerance_pa,
        _F.charge_u_pa,
    ),
    Quantity.LEAK: (
        _F.leak_pa_m3_s,
        _F.leak_pa_m3_s,
        _F.leak_allowed_pa_m3_s,
        _F.leak_u_pa_m3_s,
    ),
}
_DECISIONS: dict[Quantity, Column[str]] = {
    Quantity.OIL: _F.oil_decision,
    Quantity.CHARGE: _F.charge_decision,
    Quantity.LEAK: _F.leak_decision,
}
_OF_GROUP = (
    _G.sort == bindparam("sort"),
    _G.family_key == bindparam("family"),
    _G.name == bindparam("name"),
)
_OLDER = figure_group.alias("older")
_SINCE = (
    select(type_coerce(_OLDER.c.ended_utc, String))
    .where(
        _OLDER.c.sort == bindparam("sort"),
        _OLDER.c.family_key == bindparam("family"),
        _OLDER.c.name == bindparam("name"),
    )
    .order_by(_OLDER.c.ended_utc.desc())
    .limit(1)
    .offset(bindparam("looked_through", type_=Integer))
    .scalar_subquery()
)
_SAME_FIGURE = and_(_F.bench == _G.bench, _F.unit_id == _G.unit_id)
_SAME_UNIT = and_(unit.c.bench == _G.bench, unit.c.unit_id == _G.unit_id)


def _last(quantity: Quantity) -> Select[Any]:
    values = _VALUES[quantity]
    columns: tuple[ColumnElement[Any], ...] = (
        *(c.label(n) for c, n in zip(values, ("value", "target", "allowed", "u"), strict=True)),
        _DECISIONS[quantity].label("judged"),
        _F.first_pass,
        _F.reopened,
        _F.leak_scatter_pa_m3_s,
        _F.leak_slow_pa_m3_s,
        _F.leak_stuck,
        _G.ended_utc,
        unit.c.bench,
        unit.c.unit_id,
        unit.c.serial,
        unit.c.family,
        unit.c.technician,
        unit.c.specification_id,
        unit.c.revision,
        unit.c.standing,
        unit.c.amended,
    )
    return (
        select(*columns)
        .join_from(figure_group, unit_figure, _SAME_FIGURE)
        .join(unit, _SAME_UNIT)
        .where(
            *_OF_GROUP,
            type_coerce(_G.ended_utc, String) >= func.coalesce(_SINCE, ""),
            *(column.is_not(None) for column in values),
        )
        .order_by(_G.ended_utc.desc(), _G.unit_id.desc(), _G.bench.desc())
        .limit(bindparam("count", type_=Integer))
    )


_LAST = {quantity: _last(quantity) for quantity in _VALUES}


def last_figures(
    store: ChainStore, quantity: Quantity, group: Group, count: int = MOST_UNITS
) -> tuple[Figure, ...]:
    """Return those of a group's last units that have this figure, in their order in time."""
    this: dict[str, str | int] = {**_key(group, quantity), "count": min(count, MOST_UNITS)}
    this["looked_through"] = LOOKED_THROUGH
    with store.reading() as connection:
        rows = connection.execute(_LAST[quantity], this).all()
    leak = quantity is Quantity.LEAK
    # Unpacked: naming the columns of five hundred rows takes longer than reading them.
    return tuple(
        Figure(
            bench,
            unit_id,
            serial,
            family,
            utc,
            value,
            0.0 if leak else target,
            allowed,
            u,
            judged,
            Standing(standing),
            first_pass,
            reopened,
            technician,
            f"{specification}, revision {revision}",
            scatter if leak else None,
            (slow or 0.0) if leak else 0.0,
            leak and stuck,
            amended,
        )
        for (
            value,
            target,
            allowed,
            u,
            judged,
            first_pass,
            reopened,
            scatter,
            slow,
            stuck,
            utc,
            bench,
            unit_id,
            serial,
            family,
            technician,
            specification,
            revision,
            standing,
            amended,
        ) in reversed(rows)
    )


def _key(group: Group, quantity: Quantity) -> dict[str, str]:
    return {
        "sort": group.sort(quantity),
        "family": text_key(group.family),
        "name": group.name,
    }


_NEXT_NAME = (
    select(_G.name).where(*_OF_GROUP[:2], _G.name > bindparam("after")).order_by(_G.name).limit(1)
)
_NEXT_FAMILY = (
    select(_G.family_key)
    .where(_G.sort == ALL, _G.family_key > bindparam("after"))
    .order_by(_G.family_key)
    .limit(1)
)
_ANY = select(_G.unit_id).where(*_OF_GROUP).limit(1)


def last_lots(units: int) -> CompoundSelect[Any]:
    """Select the lots of oil, kits and parts in a group's last units."""
    newest = (
        select(_G.bench, _G.unit_id)
        .where(*_OF_GROUP)
        .order_by(_G.ended_utc.desc(), _G.unit_id.desc(), _G.bench.desc())
        .limit(units)
        .subquery()
    )

    def of(table: Table) -> Select[Any]:
        same = and_(table.c.bench == newest.c.bench, table.c.unit_id == newest.c.unit_id)
        return select(table.c.lot).join(newest, same)

    parts = unit_material.c.sort.in_((Sort.KIT.value, Sort.PART.value))
    return union(of(unit_lot), of(unit_material).where(parts))


_LAST_LOTS = last_lots(MOST_UNITS)
_FAMILY_NAME = (
    select(unit.c.family)
    .where(unit.c.family_key == bindparam("family"))
    .order_by(unit.c.sort_utc.desc())
    .limit(1)
)


def families(store: ChainStore) -> tuple[str, ...]:
    """Return the families of all units that ended, as the newest of each is written."""
    with store.reading() as connection:
        keys = _each(connection, _NEXT_FAMILY, {})
        names = (connection.execute(_FAMILY_NAME, {"family": key}).scalar() for key in keys)
        return tuple(name for name in names if name)


def names(store: ChainStore, group: Group, quantity: Quantity) -> tuple[str, ...]:
    """Return the names of a group's sort in its family, at most 200; of lots those used last."""
    this = _key(group, quantity)
    with store.reading() as connection:
        if group.by != By.LOT:
            return _each(connection, _NEXT_NAME, this)
        found = connection.execute(_LAST_LOTS, {**this, "sort": ALL, "name": ""}).scalars()
        return tuple(sorted(lot for lot in found if lot and len(lot) <= LONGEST_LOT))


def has_units(store: ChainStore, group: Group, quantity: Quantity) -> bool:
    """Return True when any unit ended in a group."""
    with store.reading() as connection:
        return connection.execute(_ANY, _key(group, quantity)).first() is not None


def _each(connection: Connection, query: Select[Any], this: dict[str, str]) -> tuple[str, ...]:
    """Return one after the other: many units of few names are passed over."""
    found: list[str] = []
    after = ""
    while len(found) < MOST_NAMES:
        name = connection.execute(query, {**this, "after": after}).scalar()
        if name is None:
            break
        found.append(name)
        after = name
    return tuple(found)


_YIELD = select(func.count(), func.coalesce(func.sum(cast(_G.first_pass, Integer)), 0)).where(
    *_OF_GROUP, _G.ended_utc >= bindparam("since"), _G.ended_utc < bindparam("until")
)


def yield_between(
    store: ChainStore, quantity: Quantity, group: Group, since: datetime, until: datetime
) -> Yield:
    """Return the yield of a group's units that ended in a time."""
    this = {**_key(group, quantity), "since": since, "until": until}
    with store.reading() as connection:
        return Yield(*connection.execute(_YIELD, this).one())


def deviations_by_step(
    store: ChainStore, figures: Sequence[Figure]
) -> tuple[tuple[str, int, int], ...]:
    """Return steps at which these units have deviations: title, deviations, units; most first."""
    wanted = {(figure.bench, figure.unit_id) for figure in figures}
    query = select(unit_deviation).where(
        unit_deviation.c.bench.in_(sorted({bench for bench, _ in wanted})),
        unit_deviation.c.unit_id.in_(sorted(unit_id for _, unit_id in wanted)),
    )
    found: dict[str, list[tuple[str, str]]] = {}
    with store.reading() as connection:
        for row in connection.execute(query):
            # Two benches might name a unit alike.
            if (row.bench, row.unit_id) in wanted:
                found.setdefault(row.step, []).append((row.bench, row.unit_id))
    steps = ((step, len(units), len(set(units))) for step, units in found.items())
    return tuple(sorted(steps, key=lambda one: (-one[1], one[0])))


_CHECKED = select(instrument.c.bench, instrument.c.instrument_id, instrument.c.role).where(
    exists().where(
        instrument_check.c.bench == instrument.c.bench,
        instrument_check.c.instrument_id == instrument.c.instrument_id,
        instrument_check.c.counts.is_(True),
    )
)
_CHECKS = (
    select(journal)
    .join(
        instrument_check,
        and_(instrument_check.c.bench == journal.c.bench, instrument_check.c.seq == journal.c.seq),
    )
    .where(
        instrument_check.c.bench == bindparam("own", type_=String),
        instrument_check.c.instrument_id == bindparam("instrument", type_=String),
        instrument_check.c.counts.is_(True),
    )
    .order_by(instrument_check.c.seq.desc())
    .limit(bindparam("count", type_=Integer))
)


def checked_instruments(store: ChainStore) -> tuple[tuple[str, str], ...]:
    """Return every instrument that was ever checked: its id with its bench, and its role."""
    with store.reading() as connection:
        rows = connection.execute(_CHECKED).all()
    return tuple(sorted((f"{row.instrument_id}{AT}{row.bench}", row.role) for row in rows))


def last_checks_of(store: ChainStore, name: str, count: int = 200) -> tuple[CheckFigure, ...]:
    """Return the last checks that count of an instrument, by its name with its bench."""
    instrument_id, _, bench = name.rpartition(AT)
    this = {"own": bench, "instrument": instrument_id, "count": count}
    with store.reading() as connection:
        rows = connection.execute(_CHECKS, this).all()
    return tuple(
        CheckFigure(
            utc_from(row.utc),
            check.check,
            check.nominal,
            check.observed - check.nominal,
            check.tolerance,
            check.passed,
        )
        for row in reversed(rows)
        if isinstance(check := entry_of(row).event, InstrumentChecked)
    )
