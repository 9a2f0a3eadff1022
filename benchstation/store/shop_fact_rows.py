"""The index of what an entry is about, kept from the journals as they grow."""

from sqlalchemy import Connection, insert

from benchstation.domain.events import Adopted, Conflicted, Event, Settled
from benchstation.domain.shop_chain import event_in, subject_of
from benchstation.store.journal import Entry
from benchstation.store.schema import shop_fact


def subject_in(event: Event) -> str | None:
    """Return what an entry of any chain is about, of what belongs to the whole shop."""
    if isinstance(event, Settled | Conflicted):
        return event.subject
    return subject_of(event_in(event) if isinstance(event, Adopted) else event)


def project(connection: Connection, entry: Entry) -> None:
    """List an entry under what it is about."""
    subject = subject_in(entry.event)
    if subject is not None:
        row = {"bench": entry.bench, "seq": entry.seq, "subject": subject}
        connection.execute(insert(shop_fact), {**row, "sort": subject.partition(":")[0]})
