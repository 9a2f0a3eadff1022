"""The tables that people search, kept from the journal as it grows; they can be made again from it.

Every row is of one bench, which is the first part of its key: what one bench does never changes
what another did, in one database or in two.

A unit's row shows the oil last judged and the charge last captured: at filing these are the ones
that count, since the route asks for both anew after a step back.
"""

from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    String,
    Table,
    and_,
    bindparam,
    delete,
    exists,
    insert,
    select,
    update,
)

from benchstation.domain.disposition import ABOUT_UNITS, standing_of
from benchstation.domain.events import (
    AlarmChanged,
    AlarmEpisodeRecorded,
    ChargeCaptured,
    Event,
    InstrumentRegistered,
    MassCaptured,
    OilJudged,
    OilLotReceived,
    PersonEnrolled,
    RebuildAbandoned,
    RebuildOpened,
    SpecificationApproved,
    StepSigned,
    UnitEvent,
    UnitFetched,
    UnitFiled,
    UnitSetAside,
    UnitWaits,
)
from benchstation.domain.inputs.line import Noted
from benchstation.domain.inputs.text import Written
from benchstation.domain.materials import text_key
from benchstation.domain.shop_chain import SHOP
from benchstation.domain.used_materials import used_in
from benchstation.store import (
    after_filing,
    figure_projections,
    newest_facts,
    notice_rows,
    order_projections,
    search_projections,
    shop_fact_rows,
    shop_renewal,
    unit_marks,
)
from benchstation.store.column_limits import fitting, serial_key, unfit
from benchstation.store.journal import Entry
from benchstation.store.schema import (
    alarm_episode,
    instrument,
    oil_lot,
    person,
    projections,
    specification,
    unit,
    unit_instrument,
    unit_lot,
    unit_material,
    utc_from,
)
from benchstation.store.search_projections import SORT_UTC

TYPED = "text"
"""The sort of what was written under a label: it may hold a lot, and is found as one."""
VERSION = "17"
"""Raised whenever this file or the tables change: an older file's tables are then made again."""


def _own(table: Table, key: str) -> ColumnElement[bool]:
    """Select the row of the bench ``own`` with the key ``this``."""
    return and_(table.c.bench == bindparam("own"), table.c[key] == bindparam("this"))


_CHANGE_UNIT = update(unit).where(_own(unit, "unit_id"))
_TITLE = select(specification.c.title).where(
    specification.c.bench == bindparam("own"),
    specification.c.specification_id == bindparam("this"),
    specification.c.revision == bindparam("number"),
)
# Only what is not there yet, in one statement: most events of a unit name the same few.
_USED = unit_instrument.c.instrument_id == bindparam("instrument", type_=String)
_USE = insert(unit_instrument).from_select(
    ["bench", "unit_id", "instrument_id", "sort_utc"],
    select(
        unit.c.bench, unit.c.unit_id, bindparam("instrument", type_=String), unit.c.sort_utc
    ).where(
        _own(unit, "unit_id"),
        ~exists().where(_own(unit_instrument, "unit_id"), _USED),
    ),
)
_USE_LOT = insert(unit_lot).values(sort_utc=SORT_UTC)
_FORGET_MATERIALS = delete(unit_material).where(
    _own(unit_material, "unit_id"), unit_material.c.step_id == bindparam("step")
)
_USE_MATERIALS = insert(unit_material).values(sort_utc=SORT_UTC)
_LOTS = select(unit_lot.c.lot).where(_own(unit_lot, "unit_id"))
_STATE = select(alarm_episode.c.state).where(_own(alarm_episode, "episode"))
_CHANGE_EPISODE = update(alarm_episode).where(_own(alarm_episode, "episode"))
_FORGET_EPISODE = delete(alarm_episode).where(_own(alarm_episode, "episode"))


def clear(connection: Connection) -> None:
    """Delete all rows of every projection."""
    for table in projections.sorted_tables:
        connection.execute(delete(table))


def project(connection: Connection, entry: Entry, here: str = "") -> None:
    """Bring the tables up to date with one more entry.

    ``here`` is the bench whose file it is: what the shop says is listed there, and counts from
    where the bench's own chain says that it was taken.
    """
    event = entry.event
    notice_rows.project(connection, entry)
    if entry.bench == SHOP:
        shop_fact_rows.project(connection, entry)
        if here in ("", SHOP):
            shop_renewal.project(connection, entry, here)
            newest_facts.project(connection, entry)
        return
    match event:
        case RebuildOpened():
            _open(connection, entry, event)
        case StepSigned():
            _use_materials(connection, entry, event)
        case MassCaptured():
            _lot(connection, entry, event.unit_id, event.oil_lot)
        case OilJudged():
            _change(
                connection,
                entry,
                net_oil_kg=event.net_shown_kg,
                target_kg=event.target_shown_kg,
            )
        case ChargeCaptured():
            _change(
                connection,
                entry,
                settled_gauge_pa=event.settled_gauge_pa,
                target_gauge_pa=event.target_gauge_pa,
            )
        case UnitFiled():
            standing = standing_of(qa_hold=event.qa_hold, words=())
            judged = {"decision": event.decision, "decision_as_filed": event.decision}
            ended = {**judged, "qa_hold": event.qa_hold, "standing": standing}
            stamps = {"filed_utc": entry.utc, "filed_seq": entry.seq, "sort_utc": entry.utc}
            _change(connection, entry, state="filed", filed_by=entry.person, **ended, **stamps)
            search_projections.move(connection, entry, event.unit_id, entry.utc)
        case RebuildAbandoned():
            _change(connection, entry, state="abandoned", sort_utc=entry.utc)
            search_projections.move(connection, entry, event.unit_id, entry.utc)
        case UnitSetAside() | UnitWaits():
            _change(connection, entry, state="aside")
        case UnitFetched():
            _change(connection, entry, state="open")
        case SpecificationApproved():
            _approve(connection, entry, event)
        case OilLotReceived():
            _newest(connection, oil_lot, entry, lot=event.lot)
        case PersonEnrolled():
            _newest(connection, person, entry, person_id=event.person_id)
        case InstrumentRegistered():
            named = {"instrument_id": event.instrument_id, "role": event.role}
            _newest(connection, instrument, entry, **named)
        case AlarmChanged():
            _alarm(connection, entry, event)
        case AlarmEpisodeRecorded():
            _episode(connection, entry, event)
    if isinstance(event, UnitEvent):
        names = _instruments(connection, entry, event)
        unit_marks.project(connection, entry, event)
        # A record lists the instruments of the whole rebuild: when it was filed says nothing of
        # when they were used.
        if not isinstance(event, UnitFiled):
            search_projections.keep_evidence(connection, entry, event, names)
    shop_fact_rows.project(connection, entry)
    if isinstance(event, (UnitFiled, *ABOUT_UNITS)):
        # In the shop's database QA's word may have been read before the unit itself.
        after_filing.renew(connection, entry.bench, event.unit_id, here)
    order_projections.project(connection, entry)
    search_projections.project(connection, entry)
    newest_facts.project(connection, entry)
    figure_projections.project(connection, entry)
    shop_renewal.project(connection, entry, here)


def _open(connection: Connection, entry: Entry, event: RebuildOpened) -> None:
    this = {"own": entry.bench, "this": event.specification_id, "number": event.revision}
    keys = {
        "serial_key": serial_key(event.serial),
        "order_key": text_key(event.order),
        "family_key": text_key(event.family),
    }
    row = {
        **{name: value for name, value in event.body().items() if name in unit.c},
        "bench": entry.bench,
        **keys,
        "title": connection.execute(_TITLE, this).scalar() or "",
        "technician": entry.person,
        "filed_by": "",
        "opened_utc": entry.utc,
        "sort_utc": entry.utc,
        "state": "open",
        "decision": "",
        "qa_hold": False,
        "disposition": "",
        "opened_seq": entry.seq,
        "standing": "",
        "customer": "",
        "amended": 0,
        "notice": "",
        "serial_as_filed": event.serial,
        "order_as_filed": event.order,
        "position_as_filed": event.position,
        "decision_as_filed": "",
    }
    connection.execute(insert(unit), fitting(unit, row))
    for sort in (search_projections.SERIAL, search_projections.ORDER, search_projections.FAMILY):
        search_projections.keep_parts(connection, entry.bench, sort, keys[f"{sort}_key"])
    _lot(connection, entry, event.unit_id, event.oil_lot)


def _lot(connection: Connection, entry: Entry, unit_id: str, lot: str) -> None:
    this = {"own": entry.bench, "this": unit_id}
    if lot and lot not in connection.execute(_LOTS, this).scalars().all():
        key = text_key(lot)
        row = {"bench": entry.bench, "unit_id": unit_id, "lot": lot, "lot_key": key}
        connection.execute(_USE_LOT, {**this, **fitting(unit_lot, row)})
        search_projections.keep_parts(connection, entry.bench, search_projections.LOT, key)


def _change(connection: Connection, entry: Entry, **values: Any) -> None:
    this = {"own": entry.bench, "this": getattr(entry.event, "unit_id", "")}
    connection.execute(_CHANGE_UNIT, {**this, **fitting(unit, values)})


def _use_materials(connection: Connection, entry: Entry, event: StepSigned) -> None:
    """Keep the lots that a signature names, under whatever label they were written.

    A step signed anew replaces its own.
    """
    named = [(u.input, u.sort.value, u.number, u.lot) for u in used_in(event.evidence)]
    named += [
        (r.input, TYPED, "", r.text) for r in event.evidence if isinstance(r, Noted | Written)
    ]
    rows = [
        fitting(
            unit_material,
            {
                "bench": entry.bench,
                "unit_id": event.unit_id,
                "step_id": event.step_id,
                "input": name,
                "sort": sort,
                "number": number,
                "lot": lot,
                "lot_key": "" if _is_text(sort, lot) else search_projections.lot_key(lot),
            },
        )
        for name, sort, number, lot in named
    ]
    this = {"own": entry.bench, "this": event.unit_id, "step": event.step_id}
    # Words are kept of what is listed here alone, and most steps are signed once.
    if connection.execute(_FORGET_MATERIALS, this).rowcount:
        search_projections.forget_words(connection, entry.bench, event.unit_id, event.step_id)
    if not rows:
        return
    connection.execute(_USE_MATERIALS, [{**this, **row} for row in rows])
    for row in rows:
        if _is_text(row["sort"], row["lot"]):
            search_projections.keep_words(connection, row, row["lot"])
    for key in dict.fromkeys(row["lot_key"] for row in rows):
        search_projections.keep_parts(connection, entry.bench, search_projections.PART, key)


def _is_text(sort: str, lot: str) -> bool:
    return sort == TYPED and len(lot) > search_projections.LONGEST_LOT


def _approve(connection: Connection, entry: Entry, event: SpecificationApproved) -> None:
    _newest(
        connection,
        specification,
        entry,
        specification_id=event.specification_id,
        revision=event.revision,
        family=event.family,
        title=event.title,
        content_sha256=event.content_sha256,
    )


def _newest(connection: Connection, table: Table, entry: Entry, **values: Any) -> None:
    row = fitting(table, {**values, "bench": entry.bench, "seq": entry.seq})
    keys = [column == row[column.name] for column in table.primary_key]
    connection.execute(delete(table).where(*keys))
    connection.execute(insert(table), row)


def _alarm(connection: Connection, entry: Entry, event: AlarmChanged) -> None:
    this = {"own": entry.bench, "this": event.episode}
    changed = {"state": event.state, "peak_gauge_pa": event.peak_gauge_pa}
    if connection.execute(_STATE, this).first():
        connection.execute(_CHANGE_EPISODE, {**this, **fitting(alarm_episode, changed)})
        return
    row = {
        **changed,
        "bench": entry.bench,
        "episode": event.episode,
        "unit_id": event.unit_id,
        "alarm": event.alarm,
        "started_utc": entry.utc,
        "acknowledged_by": "",
        "reason": event.reason,
        "trace_sha256": "",
    }
    connection.execute(insert(alarm_episode), fitting(alarm_episode, row))


def _episode(connection: Connection, entry: Entry, event: AlarmEpisodeRecorded) -> None:
    this = {"own": entry.bench, "this": event.episode}
    state = connection.execute(_STATE, this).scalar()
    connection.execute(_FORGET_EPISODE, this)
    try:
        times = {
            "started_utc": utc_from(event.started_utc),
            "ended_utc": utc_from(event.ended_utc) if event.ended_utc else None,
        }
    except ValueError as error:
        raise unfit(f"'{event.started_utc}' to '{event.ended_utc}' are no times") from error
    row = {**event.body(), "bench": entry.bench, "state": state or "normal", **times}
    connection.execute(insert(alarm_episode), fitting(alarm_episode, row))


def _instruments(connection: Connection, entry: Entry, event: UnitEvent) -> set[str]:
    names = instruments_of(event)
    if not names:
        return names
    this = {"own": entry.bench, "this": event.unit_id}
    for name in names:
        fitting(unit_instrument, {"instrument_id": name})
    connection.execute(_USE, [{**this, "instrument": name} for name in sorted(names)])
    return names


def instruments_of(event: Event) -> set[str]:
    """Return the instruments that an event rests on."""
    names = [getattr(event, "instrument_id", "")]
    # What air and unit were read with, a result rests on as well.
    names += [condition.instrument_id for condition in getattr(event, "conditions", ())]
    if isinstance(event, StepSigned):
        names += [name for result in event.evidence for name in getattr(result, "instruments", ())]
    if isinstance(event, UnitFiled):
        listed = event.record.get("instruments", [])
        names += [i.get("id", "") for i in listed if isinstance(i, dict)]
    return {name for name in names if isinstance(name, str) and name}
