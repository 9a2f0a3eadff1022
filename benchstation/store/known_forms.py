"""Which kinds of events a file holds, and up to which form: a newer program's file is refused.

The list is kept in the table ``meta`` and written when an event of a new kind or form is appended.
So a program that is too old for a file finds that out before it changes or shows anything of it,
without reading the journal. It is no evidence: every event names its own form within its hash.
"""

import json
from collections.abc import Iterable, Mapping
from contextlib import closing
from pathlib import Path

from sqlalchemy import Connection

from benchstation.domain.events import Event, EventError, known_type
from benchstation.store.connections import read_only
from benchstation.store.errors import NewerStoreError, StoreCorruptError, in_words
from benchstation.store.migrations import FORMS, set_value, value_of


def require_known(path: Path) -> None:
    """Raise :class:`NewerStoreError` for a file with events that this version does not know."""
    with in_words(str(path)), closing(read_only(path)) as raw:
        row = raw.execute("SELECT value FROM meta WHERE key = ?", (FORMS,)).fetchone()
    try:
        listed_forms = dict(json.loads(row[0] if row else "{}"))
    except (TypeError, ValueError) as error:
        raise StoreCorruptError(
            "the list of what this file holds is damaged.",
            where=str(path),
            advice="Keep the file as it is, and continue with the last backup.",
            detail=repr(error),
        ) from error
    for kind, form in listed_forms.items():
        try:
            known_type(kind, form)
        except EventError as error:
            raise NewerStoreError(
                f"a newer version of this program wrote these records: {error.what}",
                where=str(path),
                advice=error.advice,
            ) from error


def listed(connection: Connection) -> dict[str, int]:
    """Return the highest form of each kind that the file holds, as far as it is listed."""
    found = json.loads(value_of(connection, FORMS) or "{}")
    return {str(kind): int(form) for kind, form in found.items()}


def list_new(
    connection: Connection, known: Mapping[str, int], events: Iterable[Event]
) -> dict[str, int]:
    """Add the kinds and forms of ``events`` to the list; return it as it is now."""
    now = dict(known)
    for event in events:
        now[event.kind] = max(event.form, now.get(event.kind, 1))
    if now != known:
        set_value(connection, FORMS, json.dumps(now, sort_keys=True))
    return now
