"""Whether values fit their columns."""

from typing import Any

from sqlalchemy import String, Table

from benchstation.domain.materials import text_key
from benchstation.store.errors import NotStorableError

serial_key = text_key
"""The form in which serials are compared is that of every other text."""


def fitting(table: Table, row: dict[str, Any]) -> dict[str, Any]:
    """Return the row, or raise :class:`NotStorableError` for a text that its column cannot hold.

    SQLite keeps any text whatever the column says; other databases would refuse it later.
    """
    for name, value in row.items():
        column = table.c[name].type
        if not isinstance(value, str) or not isinstance(column, String):
            continue
        if "\0" in value or len(value) > (column.length or len(value)):
            raise unfit(f"the {name.replace('_', ' ')} is too long or holds a null character")
    return row


def unfit(why: str) -> NotStorableError:
    """Word the refusal of a value."""
    return NotStorableError(
        f"{why}.", where="records", advice="Nothing of it was kept. Correct it, then do it again."
    )
