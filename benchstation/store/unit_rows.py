"""One rebuild as lists show it."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select

from benchstation.store.chain_store import ChainStore
from benchstation.store.schema import unit


@dataclass(frozen=True, slots=True)
class UnitRow:
    """One rebuild as lists show it; masses in kg, gauge pressures in Pa.

    ``sort_utc`` is when it was opened, filed or abandoned, whichever came last.
    """

    bench: str
    unit_id: str
    serial: str
    family: str
    title: str
    specification_id: str
    revision: int
    order: str
    position: str
    oil_lot: str
    technician: str
    filed_by: str
    opened_utc: datetime
    filed_utc: datetime | None
    sort_utc: datetime
    state: str
    decision: str
    qa_hold: bool
    disposition: str
    net_oil_kg: float | None
    target_kg: float | None
    settled_gauge_pa: float | None
    target_gauge_pa: float | None
    opened_seq: int
    filed_seq: int | None
    standing: str
    """Where it stands (:class:`benchstation.domain.disposition.Standing`); empty: not filed."""
    customer: str
    """Whom it was shipped to last."""
    shipped_utc: datetime | None
    returned_utc: datetime | None
    amended: int
    notice: str
    """What its customer is to be told of it and was not yet; empty: nothing."""
    page_key: str = ""
    """Where the next page of a search begins when this is the last row of a page."""


FILED = unit.c.filed_seq.is_not(None)
"""Said so where a name leads: by the state, SQLite might read all that was ever filed."""
COLUMNS = [column for column in unit.c if not column.name.endswith(("_key", "_as_filed"))]


def has_filed(store: ChainStore, person_id: str) -> bool:
    """Return True where a unit that this person opened is filed."""
    of = select(unit.c.unit_id).where(unit.c.technician == person_id, FILED)
    with store.reading() as connection:
        return connection.execute(of.limit(1)).first() is not None
