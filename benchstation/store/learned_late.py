"""What a bench did on older knowledge, found as it learns what the shop had decided meanwhile.

Work on it stands on record. Each unit is named with what was not known; one that is filed already
is held, so that QA sees it.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from sqlalchemy import ColumnElement, Connection, func, or_, select

from benchstation.domain.disposition import HELD, REJECTIONS, RELEASED, Standing, plain_word
from benchstation.domain.duties import confirmers, roles_for
from benchstation.domain.events import (
    Adopted,
    ChargeCaptured,
    ClockRanBack,
    Conflicted,
    Event,
    LearnedLate,
    MassCaptured,
    MaterialClosed,
    OilLotClosed,
    PersonEnrolled,
    PersonLeft,
    RebuildOpened,
    ReleaseRuleSet,
    ShopJoined,
    SpecificationApproved,
    UnitAmended,
    UnitDisposed,
)
from benchstation.domain.materials import WITHDRAWN, text_key
from benchstation.domain.people import Role
from benchstation.domain.shop_chain import Subject, event_in
from benchstation.domain.statement_words import worded
from benchstation.domain.statements import Code, Statement
from benchstation.store.journal import Entry, entry_of, read
from benchstation.store.schema import journal, shop_fact, unit, unit_lot, unit_material, utc_text
from benchstation.store.search_projections import lot_key
from benchstation.store.shop_fact_rows import folded

Units = Iterable[tuple[str, Statement]]
Roles = frozenset[Role]
ANY: Roles = frozenset(Role)
_CONFIRMED = (UnitAmended.kind, MassCaptured.kind, ChargeCaptured.kind)
"""The kinds of facts that a second person confirms."""


def learned_late(connection: Connection, bench: str, entries: Sequence[Entry]) -> list[Event]:
    """Return what a bench puts on record of its units as it takes these entries of the shop.

    What was said before the bench belonged to the shop says nothing of its work.
    """
    found: list[Event] = []
    held: dict[str, list[str]] = {}
    joined = _joined(connection, bench)
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
            held.setdefault(unit_id, []).append(f"{worded(what)}.")
    # One that is on hold already is held for this too: else it is released for the other reason.
    holds = (
        UnitDisposed(unit_id, HELD, " ".join(dict.fromkeys(why)))
        for unit_id, why in held.items()
        if _may_be_held(connection, bench, unit_id)
    )
    return [*found, *holds]


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
            signed = _signed(connection, bench, event.person_id, ANY, frozenset(), since)
            yield from _each(signed, what)
        case PersonEnrolled():
            roles = frozenset(Role(role) for role in event.roles)
            before = _roles(connection, bench, event.person_id)
            if not before <= roles:
                left = " ".join(sorted(roles))
                what = Statement.of(Code.SIGNED_WHILE_LOCKED, person=event.name, roles=left)
                signed = _signed(connection, bench, event.person_id, before, roles, since)
                yield from _each(signed, what)
        case OilLotClosed() if event.why == WITHDRAWN:
            with_lot = select(unit_lot.c.unit_id).where(
                unit_lot.c.bench == bench, unit_lot.c.lot_key == lot_key(event.lot)
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


def _signed(
    connection: Connection, bench: str, person: str, before: Roles, left: Roles, since: datetime
) -> list[str]:
    """Return the units of which a person wrote or confirmed after that moment what was not theirs.

    By the roles of ``before``, which the bench knew, it was; by those ``left`` in the shop not.
    """
    after = _last_before(connection, bench, utc_text(since))
    query = select(journal).where(
        journal.c.bench == bench,
        journal.c.seq > after,
        journal.c.unit_id.is_not(None),
        or_(journal.c.person == person, journal.c.kind.in_(_CONFIRMED)),
    )
    found = []
    for row in connection.execute(query.order_by(journal.c.seq)):
        entry = entry_of(row)
        needed = [roles_for(entry.event)] if entry.person == person else []
        if person in confirmers(entry.event):
            needed.append(roles_for(entry.event, confirming=True))
        if any(roles & before and not roles & left for roles in needed):
            found.append(str(row.unit_id))
    return list(dict.fromkeys(found))


def _released_by_one(connection: Connection, bench: str, since: datetime) -> list[str]:
    """Return the units that one person released here after that moment."""
    after = _last_before(connection, bench, utc_text(since))
    said = [e for e in read(connection, bench, kind=UnitDisposed.kind) if e.seq > after]
    words = [e.event for e in said if isinstance(e.event, UnitDisposed)]
    found = [word.unit_id for word in words if plain_word(word.disposition) == RELEASED]
    return list(dict.fromkeys(found))


def _last_before(connection: Connection, bench: str, utc: str) -> int:
    """Return the last entry of a bench before the first one that is after a time.

    The journal has no index of it: it is halved, from each time that its clock was set back on.
    """
    mine = journal.c.bench == bench
    last = connection.execute(select(func.max(journal.c.seq)).where(mine)).scalar() or 0
    back = [entry.seq for entry in read(connection, bench, kind=ClockRanBack.kind)]
    for first, end in pairwise([1, *back, last + 1]):
        found = _last_between(connection, bench, utc, first - 1, end - 1)
        if found < end - 1:
            return found
    return last


def _last_between(connection: Connection, bench: str, utc: str, low: int, high: int) -> int:
    """Return the last entry of these that is not after a time; ``low``: none is."""
    mine = journal.c.bench == bench
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
    after = _last_before(connection, bench, utc_text(since))
    query = select(unit.c.unit_id).where(unit.c.bench == bench, which, unit.c.filed_seq > after)
    return connection.execute(query.order_by(unit.c.opened_seq)).scalars().all()


def _older(
    connection: Connection, bench: str, event: SpecificationApproved, since: datetime
) -> Units:
    query = select(unit.c.unit_id, unit.c.revision).where(
        unit.c.bench == bench,
        unit.c.specification_id == event.specification_id,
        unit.c.revision < event.revision,
        unit.c.opened_seq > _last_before(connection, bench, utc_text(since)),
        unit.c.state != "abandoned",
    )
    for row in connection.execute(query.order_by(unit.c.opened_seq)):
        values = {"revision": row.revision, "newer": event.revision}
        yield row.unit_id, Statement.of(Code.OLDER_REVISION, **values)


def _built_on(
    connection: Connection, bench: str, event: SpecificationApproved, since: datetime
) -> Sequence[str]:
    """Return the units that were begun on this revision after it was approved here."""
    # What was written together with the approval has its time, and counts.
    before = _last_before(connection, bench, utc_text(since - timedelta(microseconds=1)))
    query = select(unit.c.unit_id).where(
        unit.c.bench == bench,
        unit.c.specification_id == event.specification_id,
        unit.c.revision == event.revision,
        unit.c.opened_seq > before,
        unit.c.state != "abandoned",
    )
    return connection.execute(query.order_by(unit.c.opened_seq)).scalars().all()


def _may_be_held(connection: Connection, bench: str, unit_id: str) -> bool:
    """Return True for a filed unit that is not rejected."""
    this = unit.c.bench == bench, unit.c.unit_id == unit_id, unit.c.state == "filed"
    standing = connection.execute(select(unit.c.standing).where(*this)).scalar()
    return standing is not None and Standing(standing) not in REJECTIONS


def _name(connection: Connection, bench: str, person_id: str) -> str:
    return next((event.name for event in _enrolled(connection, bench, person_id)), person_id)


def _roles(connection: Connection, bench: str, person_id: str) -> Roles:
    """Return the roles that a person had as the bench knew it; none for one who had left."""
    known = next(_enrolled(connection, bench, person_id), None)
    return frozenset(Role(role) for role in known.roles) if known is not None else frozenset()


def _enrolled(connection: Connection, bench: str, person_id: str) -> Iterator[PersonEnrolled]:
    """Return how the bench knows a person to be enrolled, the newest first."""
    which = shop_fact.c.subject == f"{Subject.PERSON}:{person_id}"
    shop, own = folded(connection, which, bench)
    for fact in reversed(shop.in_force(own)):
        if isinstance(fact.event, PersonEnrolled):
            yield fact.event
