"""Taking a bench's facts into the shop's chain, in the transaction that brings them to the shop.

What is adopted and what is in conflict is judged by ``domain/shop_chain.py``; here it is asked of
both chains and written. The shop's row is locked by whoever calls this.
"""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, bindparam, select

from benchstation.domain.disposition import ABOUT_UNITS
from benchstation.domain.events import (
    Adopted,
    BadgeRegistered,
    BadgeSaltMade,
    Conflicted,
    Event,
    InstrumentRegistered,
    MaterialClosed,
    MaterialReceived,
    OilLotClosed,
    OilLotReceived,
    OrderChanged,
    OrderPlaced,
    OrderUnitWithdrawn,
    PersonEnrolled,
    PersonLeft,
    RebuildOpened,
    ReleaseRuleSet,
    SpecificationApproved,
    SpecificationDrafted,
)
from benchstation.domain.shop_chain import MOVES, SHOP, adopt, kept_of
from benchstation.store import journal
from benchstation.store.canonical import parsed
from benchstation.store.journal import Entry
from benchstation.store.schema import journal as table
from benchstation.store.shop.batches import parts
from benchstation.store.taken import taken
from benchstation.store.trust import SYSTEM

_SUBJECTS = (
    PersonEnrolled,
    PersonLeft,
    BadgeRegistered,
    BadgeSaltMade,
    SpecificationDrafted,
    SpecificationApproved,
    OilLotReceived,
    OilLotClosed,
    MaterialReceived,
    MaterialClosed,
    InstrumentRegistered,
    OrderPlaced,
    OrderChanged,
    OrderUnitWithdrawn,
    RebuildOpened,
    ReleaseRuleSet,
    *ABOUT_UNITS,
)
KINDS = frozenset(event.kind for event in (*_SUBJECTS, *MOVES))
"""What may be the shop's, by its kind: nothing else is parsed on its way."""
_BY_LINE = frozenset(event.kind for event in (RebuildOpened, *MOVES))
"""What is the shop's where the unit is one of an order."""
# By the numbers of a unit's entries, which its index holds: asked directly, SQLite walks it all.
_LISTED = table.alias("listed")
_OF_UNITS = select(_LISTED.c.seq).where(
    _LISTED.c.bench == bindparam("own"),
    _LISTED.c.unit_id.in_(bindparam("units", expanding=True)),
)
_OPENED = select(table.c.unit_id, table.c.body).where(
    table.c.bench == bindparam("own"),
    table.c.kind == RebuildOpened.kind,
    table.c.seq.in_(_OF_UNITS),
)
_SHOP_SINCE = select(table).where(table.c.bench == SHOP).order_by(table.c.seq)
Matter = tuple[Entry, Event]
"""An entry of a bench, and what the shop keeps of it."""


def shop_matters(local: Connection, rows: Sequence[Row[Any]]) -> list[Matter]:
    """Return the entries that are about what belongs to the whole shop."""
    lines = _lines_of(local, rows)
    found: list[Matter] = []
    for row in rows:
        if row.kind not in KINDS:
            continue
        line = lines.get(row.unit_id, "")
        if row.kind in _BY_LINE and not line:
            # Most units are of no order, and a filing has the whole record in it.
            continue
        entry = journal.entry_of(row)
        kept = kept_of(entry.event, line)
        if kept is not None:
            found.append((entry, kept))
    return found


def adopt_rows(
    shop: Connection, local: Connection, bench: str, matters: Sequence[Matter], now: datetime
) -> int:
    """Append to the shop's chain what it says of these entries; gives how many entries that are.

    What was decided before is left: a shop that was restored may know the decision already.
    """
    known = {entry.seq: taken(local, bench, entry.seq)[0] for entry, _ in matters}
    stands = _since(shop, min(known.values()))
    judged = [e.event for e in stands if isinstance(e.event, Adopted | Conflicted)]
    decided = {(event.bench, event.seq) for event in judged}
    head = journal.head(shop, SHOP)
    made: list[tuple[Entry, bytes]] = []
    for entry, kept in matters:
        if (bench, entry.seq) in decided:
            continue
        said = adopt(entry, kept, known[entry.seq], stands)
        made += journal.chained([said], bench=SHOP, head=head, person=SYSTEM, utc=now)
        stands.append(made[-1][0])
        head = (made[-1][0].seq, made[-1][0].hash)
    if made:
        journal.write(shop, made)
    return len(made)


def _since(shop: Connection, seq: int) -> list[Entry]:
    rows = shop.execute(_SHOP_SINCE.where(table.c.seq > seq))
    return [journal.entry_of(row) for row in rows]


def _lines_of(local: Connection, rows: Sequence[Row[Any]]) -> dict[str, str]:
    """Return the unit of an order that each unit of these rows was opened as, where it was one."""
    opened = [row for row in rows if row.kind == RebuildOpened.kind]
    here = {row.unit_id for row in opened}
    left = {row.unit_id for row in rows if row.kind in _BY_LINE} - here
    for part in parts(sorted(left)):
        opened += local.execute(_OPENED, {"own": rows[0].bench, "units": part})
    # Canonical text has no blanks: a line that is named stands so in it.
    named = [row for row in opened if b'"line":"' in row.body and b'"line":""' not in row.body]
    return {row.unit_id: str(parsed(row.body)["line"]) for row in named}
