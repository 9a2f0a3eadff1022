"""Up to which entry of the shop's chain a bench knew it, as its own chain says."""

from sqlalchemy import Connection, bindparam, select

from benchstation.domain.events import ShopTaken
from benchstation.store.canonical import parsed
from benchstation.store.journal import GENESIS
from benchstation.store.schema import journal
from benchstation.store.shop_fact_rows import NO_END

_FACTS = (
    select(journal.c.body)
    .where(
        journal.c.bench == bindparam("own"),
        journal.c.kind == ShopTaken.kind,
        journal.c.seq < bindparam("before"),
    )
    .order_by(journal.c.seq.desc())
    .limit(1)
)


def taken(connection: Connection, bench: str, before: int = NO_END) -> tuple[int, str]:
    """Return the shop's entry that a bench had taken last before its own entry ``before``."""
    body = connection.execute(_FACTS, {"own": bench, "before": before}).scalar()
    if body is None:
        return 0, GENESIS
    fact = parsed(body)
    return int(fact["seq"]), str(fact["hash"])
