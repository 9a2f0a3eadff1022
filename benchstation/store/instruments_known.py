"""Every instrument of a bench, or of all benches of a shop, with its newest check that counts."""

from dataclasses import dataclass

from sqlalchemy import bindparam, func, select

from benchstation.domain.events import InstrumentChecked, InstrumentRegistered
from benchstation.domain.shop_chain import SHOP
from benchstation.store.chain_store import ChainStore
from benchstation.store.journal import entry_of
from benchstation.store.schema import instrument, instrument_check, journal

_REGISTERED = (
    select(journal)
    .join(instrument, (instrument.c.bench == journal.c.bench) & (instrument.c.seq == journal.c.seq))
    .order_by(instrument.c.bench, instrument.c.instrument_id)
)
_LAST = (
    select(func.max(instrument_check.c.seq))
    .where(
        instrument_check.c.bench == bindparam("own"),
        instrument_check.c.instrument_id == bindparam("this"),
        instrument_check.c.counts.is_(True),
    )
    .scalar_subquery()
)
_CHECK = select(journal).where(journal.c.bench == bindparam("own"), journal.c.seq == _LAST)


@dataclass(frozen=True, slots=True)
class KnownInstrument:
    """An instrument as a bench registered it last; ``check`` is ``None`` before the first."""

    bench: str
    registered: InstrumentRegistered
    check: InstrumentChecked | None


def instruments_known(store: ChainStore) -> list[KnownInstrument]:
    """Return the instruments of a bench; of a shop those of all benches."""
    query = _REGISTERED
    if store.bench != SHOP:
        query = query.where(instrument.c.bench == store.bench)
    found = []
    with store.reading() as connection:
        for row in connection.execute(query).all():
            event = entry_of(row).event
            assert isinstance(event, InstrumentRegistered)
            this = {"own": row.bench, "this": event.instrument_id}
            last = connection.execute(_CHECK, this).first()
            check = entry_of(last).event if last is not None else None
            assert check is None or isinstance(check, InstrumentChecked)
            found.append(KnownInstrument(row.bench, event, check))
    return found
