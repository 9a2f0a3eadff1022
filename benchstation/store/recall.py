"""Which units an instrument's failure puts in doubt: those measured since it was good.

Checks that count and evidence are read from tables of their own, so that neither the number of
checks nor that of units matters.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sqlalchemy import ColumnElement, bindparam, func, select

from benchstation.domain.shop_chain import SHOP
from benchstation.store.chain_store import ChainStore
from benchstation.store.journal import Entry, entry_of
from benchstation.store.queries import MOST
from benchstation.store.schema import evidence, instrument, instrument_check, journal
from benchstation.store.search import NO_END, ByEvidence, Conditions, page_of
from benchstation.store.unit_rows import UnitRow

PAGE = 1_000
_CHECKS = (
    select(journal)
    .join(
        instrument_check,
        (instrument_check.c.bench == journal.c.bench) & (instrument_check.c.seq == journal.c.seq),
    )
    .where(instrument_check.c.bench == bindparam("own"), instrument_check.c.counts.is_(True))
)
_OF = instrument_check.c.instrument_id == bindparam("instrument")


@dataclass(frozen=True, slots=True)
class Doubt:
    """From an instrument's last good check on, up to the next good one after it failed.

    ``good`` is ``None`` when no check was good before; ``failed`` when none failed since there
    are checks; ``again`` when none was good since it failed.
    """

    good: Entry | None
    failed: Entry | None
    again: Entry | None


def checks_of(store: ChainStore, instrument_id: str) -> list[Entry]:
    """Return the checks of an instrument that count, oldest first."""
    query = _CHECKS.where(_OF).order_by(instrument_check.c.seq)
    with store.reading() as connection:
        this = {"own": store.bench, "instrument": instrument_id}
        return [entry_of(row) for row in connection.execute(query, this)]


def last_checks(store: ChainStore) -> dict[str, Entry]:
    """Return the newest check that counts of each instrument, by its id."""
    newest = (
        select(instrument_check.c.instrument_id, func.max(instrument_check.c.seq).label("seq"))
        .where(instrument_check.c.bench == store.bench, instrument_check.c.counts.is_(True))
        .group_by(instrument_check.c.instrument_id)
        .subquery()
    )
    query = select(newest.c.instrument_id.label("checked"), journal).join(
        newest, (journal.c.bench == store.bench) & (journal.c.seq == newest.c.seq)
    )
    with store.reading() as connection:
        return {row.checked: entry_of(row) for row in connection.execute(query)}


def benches_with(store: ChainStore, instrument_id: str) -> list[str]:
    """Return the benches that have an instrument on record; without any the store's own."""
    query = select(instrument.c.bench).where(
        instrument.c.instrument_id == instrument_id, instrument.c.bench != SHOP
    )
    with store.reading() as connection:
        found = connection.execute(query.order_by(instrument.c.bench)).scalars().all()
    return list(found) or [store.bench]


def doubt_about(store: ChainStore, instrument_id: str, bench: str = "") -> Doubt:
    """Return the time in which an instrument is not proven: around its newest failure, if any.

    At one ``bench``, the store's own where none is named: each has checks of its own.
    """
    seq = instrument_check.c.seq
    with store.reading() as connection:

        def check(passed: bool, *where: ColumnElement[bool], first: bool = False) -> Entry | None:
            query = _CHECKS.where(_OF, instrument_check.c.passed.is_(passed), *where)
            query = query.order_by(seq if first else seq.desc()).limit(1)
            this = {"own": bench or store.bench, "instrument": instrument_id}
            row = connection.execute(query, this).first()
            return None if row is None else entry_of(row)

        failed = check(False)
        if failed is None:
            return Doubt(check(True), None, None)
        before = check(True, seq < failed.seq)
        return Doubt(before, failed, check(True, seq > failed.seq, first=True))


def since_good(store: ChainStore, instrument_id: str) -> Doubt:
    """Return the time since an instrument's newest good check at the store's own bench."""
    query = _CHECKS.where(_OF, instrument_check.c.passed.is_(True))
    query = query.order_by(instrument_check.c.seq.desc()).limit(1)
    with store.reading() as connection:
        this = {"own": store.bench, "instrument": instrument_id}
        row = connection.execute(query, this).first()
    return Doubt(entry_of(row) if row is not None else None, None, None)


def _way(bench: str, instrument_id: str, doubt: Doubt) -> ByEvidence:
    after = doubt.good.seq if doubt.good else 0
    return ByEvidence(bench, instrument_id, after, doubt.again.seq if doubt.again else NO_END)


def units_since(
    store: ChainStore,
    instruments: Sequence[str],
    *,
    where: Conditions = (),
    before: str = "",
    limit: int = 50,
) -> list[UnitRow]:
    """Return a page of the units with evidence of instruments from the time of each one's doubt."""
    ways = [
        _way(bench, one, doubt_about(store, one, bench))
        for one in instruments
        for bench in benches_with(store, one)
    ]
    return page_of(store, ways, where=where, before=before, limit=limit) if ways else []


def count_in(store: ChainStore, instrument_id: str, doubt: Doubt, bench: str = "") -> int:
    """Count the units with evidence from that time, up to one more than :data:`MOST`."""
    way = _way(bench or store.bench, instrument_id, doubt)
    some = (
        select(evidence.c.unit_id)
        .where(
            evidence.c.bench == way.bench,
            evidence.c.instrument_id == instrument_id,
            evidence.c.seq.between(way.after + 1, way.before - 1),
        )
        .distinct()
        .limit(MOST + 1)
    )
    with store.reading() as connection:
        return connection.execute(select(func.count()).select_from(some.subquery())).scalar_one()


def units_in(store: ChainStore, instrument_id: str, doubt: Doubt) -> Iterator[str]:
    """Return the ids of the units with evidence of an instrument from that time, oldest first."""
    way = _way(store.bench, instrument_id, doubt)
    query = (
        select(evidence.c.seq, evidence.c.unit_id)
        .where(
            evidence.c.bench == way.bench,
            evidence.c.instrument_id == instrument_id,
            evidence.c.seq > bindparam("after"),
            evidence.c.seq < way.before,
        )
        .order_by(evidence.c.seq)
        .limit(PAGE)
    )
    given: set[str] = set()
    after, more = way.after, True
    while more:
        with store.reading() as connection:
            rows = connection.execute(query, {"after": after}).all()
        more = len(rows) == PAGE
        for row in rows:
            after = row.seq
            if row.unit_id not in given:
                given.add(row.unit_id)
                yield row.unit_id
