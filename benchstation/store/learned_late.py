"""What a bench did on older knowledge, found as it learns what the shop had decided meanwhile.

Work on it stands on record. Each unit is named with what was not known; one that is filed already
is held, so that QA sees it.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime

from sqlalchemy import ColumnElement, Connection, func, select

from benchstation.domain.disposition import HELD, RELEASED, STOPPED, Standing, plain_word
from benchstation.domain.events import (
    Adopted,
    Conflicted,
    Event,
    LearnedLate,
    MaterialClosed,
    OilLotClosed,
    PersonEnrolled,
    PersonLeft,
    RebuildOpened,
    ReleaseRuleSet,
    ShopJoined,
    SpecificationApproved,
    UnitDisposed,
)
from benchstation.domain.materials import WITHDRAWN, text_key
from benchstation.domain.shop_chain import Subject, event_in
from benchstation.domain.statement_words import worded
from benchstation.domain.statements import Code, Statement
from benchstation.store.journal import Entry, read
from benchstation.store.schema import journal, shop_fact, unit, unit_lot, unit_material, utc_text
from benchstation.store.shop_fact_rows import folded

Units = Iterable[tuple[str, Statement]]


def learned_late(connection: Connection, bench: str, entries: Sequence[Entry]) -> list[Event]:
    """Return what a bench puts on record of its units as it takes these entries of the shop.

    What was said before the bench belonged to the shop says nothing of its work.
    """
    found: list[Event] = []
    joined = _joined(connection, bench)
    held: set[str] = set()
    for entry in entries:
        said = entry.event
        theirs = isinstance(said, Adopted | Conflicted)
        if isinstance(said, Adopted) and said.bench == bench:
            continue
        utc = datetime.fromisoformat(said.utc) if isinstance(said, Adopted | Conflicted) else None
        since = utc or entry.utc
        if joined is not None and since <= joined:
            continue
        own = theirs and isinstance(said, Conflicted) and said.bench == bench
        for unit_id, what in _units(connection, bench, event_in(said), since, own=own):
            found.append(LearnedLate(unit_id, what, utc_text(since)))
            if unit_id not in held and _at_large(connection, bench, unit_id):
                held.add(unit_id)
                found.append(UnitDisposed(unit_id, HELD, f"{worded(what)}."))
    return found


def _units(
    connection: Connection, bench: str, event: Event, since: datetime, *, own: bool
) -> Units:
    """Return the units that an event is about which was not known, each with what to say."""
    if own:
        # The bench's own version is in conflict: it knew it, but not that a line was taken.
        if isinstance(event, RebuildOpened):
            yield event.unit_id, Statement.of(Code.LINE_TAKEN_TWICE, order=event.order)
        elif isinstance(event, SpecificationApproved):
            what = Statement.of(Code.OTHER_REVISION, revision=event.revision)
            yield from _each(_built_on(connection, bench, event, since), what)
        return
    match event:
        case PersonLeft():
            name = _name(connection, bench, event.person_id)
            what = Statement.of(Code.SIGNED_WHILE_LOCKED, person=name)
            yield from _each(_signed(connection, bench, event.person_id, since), what)
        case OilLotClosed() if event.why == WITHDRAWN:
            with_lot = select(unit_lot.c.unit_id).where(
                unit_lot.c.bench == bench, unit_lot.c.lot == event.lot
            )
            what = Statement.of(Code.LOT_WITHDRAWN, lot=event.lot, lot_reason=event.reason)
            yield from _each(_filed(connection, bench, unit.c.unit_id.in_(with_lot), since), what)
        case MaterialClosed() if event.why == WITHDRAWN:
            having = select(unit_material.c.unit_id).where(
                unit_material.c.bench == bench,
                unit_material.c.lot_key == text_key(event.lot),
                unit_material.c.sort == event.sort,
            )
            what = Statement.of(Code.LOT_WITHDRAWN, lot=event.lot, lot_reason=event.reason)
            yield from _each(_filed(connection, bench, unit.c.unit_id.in_(having), since), what)
        case SpecificationApproved():
            yield from _older(connection, bench, event, since)
        case ReleaseRuleSet() if event.signatures > 1:
            released = _released_by_one(connection, bench, since)
            yield from _each(released, Statement(Code.ONE_SIGNATURE))


def _joined(connection: Connection, bench: str) -> datetime | None:
    facts = read(connection, bench, kind=ShopJoined.kind)
    return facts[-1].utc if facts else None


def _each(units: Iterable[str], what: Statement) -> Units:
    return ((unit_id, what) for unit_id in units)


def _signed(connection: Connection, bench: str, person: str, since: datetime) -> Sequence[str]:
    """Return the units of which a person wrote anything after that moment."""
    after = _last_before(connection, bench, utc_text(since))
    query = (
        select(journal.c.unit_id)
        .distinct()
        .where(
            journal.c.bench == bench,
            journal.c.seq > after,
            journal.c.person == person,
            journal.c.unit_id.is_not(None),
        )
    )
    return connection.execute(query.order_by(journal.c.unit_id)).scalars().all()


def _released_by_one(connection: Connection, bench: str, since: datetime) -> list[str]:
    """Return the units that one person released here after that moment."""
    after = _last_before(connection, bench, utc_text(since))
    said = [e for e in read(connection, bench, kind=UnitDisposed.kind) if e.seq > after]
    words = [e.event for e in said if isinstance(e.event, UnitDisposed)]
    found = [word.unit_id for word in words if plain_word(word.disposition) == RELEASED]
    return list(dict.fromkeys(found))


def _last_before(connection: Connection, bench: str, utc: str) -> int:
    """Return the last entry of a bench that is not after a time: the journal has no index of it."""
    mine = journal.c.bench == bench
    low, high = 0, connection.execute(select(func.max(journal.c.seq)).where(mine)).scalar() or 0
    while low < high:
        middle = (low + high + 1) // 2
        this = select(journal.c.utc).where(mine, journal.c.seq == middle)
        if str(connection.execute(this).scalar()) <= utc:
            low = middle
        else:
            high = middle - 1
    return low


def _filed(
    connection: Connection, bench: str, which: ColumnElement[bool], since: datetime
) -> Sequence[str]:
    """Return the units that were filed after that moment; filing stops the others by itself."""
    query = select(unit.c.unit_id).where(unit.c.bench == bench, which, unit.c.filed_utc > since)
    return connection.execute(query.order_by(unit.c.opened_seq)).scalars().all()


def _older(
    connection: Connection, bench: str, event: SpecificationApproved, since: datetime
) -> Units:
    query = select(unit.c.unit_id, unit.c.revision).where(
        unit.c.bench == bench,
        unit.c.specification_id == event.specification_id,
        unit.c.revision < event.revision,
        unit.c.opened_utc > since,
        unit.c.state != "abandoned",
    )
    for row in connection.execute(query.order_by(unit.c.opened_seq)):
        values = {"revision": row.revision, "newer": event.revision}
        yield row.unit_id, Statement.of(Code.OLDER_REVISION, **values)


def _built_on(
    connection: Connection, bench: str, event: SpecificationApproved, since: datetime
) -> Sequence[str]:
    """Return the units that were begun on this revision after it was approved here."""
    query = select(unit.c.unit_id).where(
        unit.c.bench == bench,
        unit.c.specification_id == event.specification_id,
        unit.c.revision == event.revision,
        unit.c.opened_utc >= since,
        unit.c.state != "abandoned",
    )
    return connection.execute(query.order_by(unit.c.opened_seq)).scalars().all()


def _at_large(connection: Connection, bench: str, unit_id: str) -> bool:
    """Return True for a filed unit that is neither held nor rejected."""
    this = unit.c.bench == bench, unit.c.unit_id == unit_id, unit.c.state == "filed"
    standing = connection.execute(select(unit.c.standing).where(*this)).scalar()
    return standing is not None and Standing(standing) not in STOPPED


def _name(connection: Connection, bench: str, person_id: str) -> str:
    which = shop_fact.c.subject == f"{Subject.PERSON}:{person_id}"
    shop, own = folded(connection, which, bench)
    facts = (fact.event for fact in shop.in_force(own))
    names = [event.name for event in facts if isinstance(event, PersonEnrolled)]
    return names[-1] if names else person_id
