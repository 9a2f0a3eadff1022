"""Many filed units made from one: each with its own names and times, in a chain computed anew.

What the program wrote of the one, entries and rows of the searched tables, is written again under
other names; hashes and tree are made by the program's own code. ``Store.verify`` of a file that
was grown so recomputes chain, tree and every searched row from the entries, and finds it sound.
"""

from collections.abc import Callable, Sequence
from datetime import timedelta
from typing import Any

from sqlalchemy import Connection, Table, update

from benchstation.domain.materials import text_key
from benchstation.store import journal, migrations, tree_rows
from benchstation.store.schema import (
    newest_fact,
    projections,
    text_part,
    tree_node,
    unit,
    utc_from,
    utc_text,
)
from benchstation.store.search_projections import LOT, ORDER, PART, SERIAL, parts_of

APART = timedelta(minutes=2)
BATCH = 500
NAMED = {("unit", "serial_key"): SERIAL, ("unit", "order_key"): ORDER,
         ("unit_lot", "lot_key"): LOT, ("unit_material", "lot_key"): PART}  # fmt: skip
Names = Callable[[int], dict[str, str]]


class Clone:
    """What stands in one clone for what stands in the template."""

    def __init__(self, template: "Template", number: int, names: dict[str, str]) -> None:
        self.unit_id = id_of(number)
        self.names = {template.unit_id: self.unit_id, **names}
        self.folded = {text_key(old): text_key(new) for old, new in names.items()}
        self.shift = template.size * number
        self._later = number * APART
        self._times: dict[str, str] = {}

    def time(self, text: str) -> str:
        """Return a stored time as much later as the clone is."""
        if text not in self._times:
            self._times[text] = utc_text(utc_from(text) + self._later)
        return self._times[text]

    def value(self, column: str, value: Any) -> Any:
        """Return what stands in a column of a searched table."""
        if column.endswith("_key"):
            return self.folded.get(value, value)
        if value and column.endswith("_utc"):
            return self.time(value)
        if column == "seq" or column.endswith("_seq"):
            return value + self.shift
        if column == "subject":
            return value.replace(*next(iter(self.names.items())))
        return self.names.get(value, value) if isinstance(value, str) else value


class Template:
    """One unit's entries and rows: those from ``first`` on, which are the chain's last."""

    def __init__(self, connection: Connection, bench: str, unit_id: str, first: int) -> None:
        self.connection, self.bench, self.unit_id, self.first = connection, bench, unit_id, first
        self.entries = self._rows(journal.journal, f"bench = '{bench}' AND seq >= {first}")
        self.entries.sort(key=lambda row: row["seq"])
        self.size = len(self.entries)
        self.tables = {}
        for table in projections.sorted_tables:
            if table in (tree_node, text_part, newest_fact):
                continue
            if "unit_id" in table.c:
                self.tables[table] = self._rows(
                    table, f"bench = '{bench}' AND unit_id = '{unit_id}'"
                )
            elif table.name == "shop_fact":
                self.tables[table] = self._rows(table, f"bench = '{bench}' AND seq >= {first}")
        assert len(self.tables[unit]) == 1
        self._moved = 0
        self._known: set[tuple[str, str]] = set()

    def _rows(self, table: Table, where: str) -> list[dict[str, Any]]:
        # As they are stored: names and numbers are the caller's own.
        query = f"SELECT * FROM {table.name} WHERE {where}"
        return [dict(row) for row in self.connection.exec_driver_sql(query).mappings()]

    def _write(self, table: Table, columns: Sequence[str], rows: list[tuple[Any, ...]]) -> None:
        if rows:
            dialect = self.connection.dialect
            mark = "?" if dialect.paramstyle == "qmark" else "%s"
            names = ", ".join(dialect.identifier_preparer.quote(name) for name in columns)
            marks = ", ".join(mark for _ in columns)
            statement = f"INSERT INTO {table.name} ({names}) VALUES ({marks})"
            self.connection.exec_driver_sql(statement, rows)

    def clone(self, start: int, units: int, names: Names) -> None:
        """Write so many more, the first being number ``start``.

        ``names`` gives for a number what stands in it for texts of the template.
        """
        head = journal.head(self.connection, self.bench)
        tree = tree_rows.Growing(self.connection, self.bench)
        tree.frontier = tree_rows.frontier(self.connection, self.bench, head[0])
        for at in range(start, start + units, BATCH):
            numbers = range(at, min(at + BATCH, start + units))
            clones = [Clone(self, number, names(number)) for number in numbers]
            entries: list[tuple[Any, ...]] = []
            for one in clones:
                for entry in self._entries(one, head):
                    entries.append(tuple(entry.values()))
                    head = entry["seq"], entry["hash"]
                    tree.add(head[1])
            self._write(journal.journal, list(self.entries[0]), entries)
            for table, rows in self.tables.items():
                columns = list(rows[0]) if rows else []
                made = [
                    tuple(one.value(name, value) for name, value in row.items())
                    for one in clones
                    for row in rows
                ]
                self._write(table, columns, made)
            self._keep_parts(clones)
        tree.finish()
        self._renew_newest(start + units - 1)
        migrations.set_value(self.connection, "head", f"{head[0]}:{head[1]}")

    def _entries(self, one: Clone, head: tuple[int, str]) -> list[dict[str, Any]]:
        swaps = [(f'"{old}"'.encode(), f'"{new}"'.encode()) for old, new in one.names.items()]
        found, (seq, prev) = [], head
        for given in self.entries:
            body, seq, utc = bytes(given["body"]), seq + 1, one.time(given["utc"])
            for old, new in swaps:
                body = body.replace(old, new)
            person = one.names.get(given["person"], given["person"])
            own = journal.hash_of(self.bench, seq, utc, person, given["kind"], body, prev)
            unit_id = one.unit_id if given["unit_id"] else None
            found.append(
                {**given, "seq": seq, "utc": utc, "person": person, "unit_id": unit_id,
                 "body": body, "prev": prev, "hash": own}
            )  # fmt: skip
            prev = own
        return found

    def _keep_parts(self, clones: Sequence[Clone]) -> None:
        found = []
        for table, rows in self.tables.items():
            for row in rows:
                for column in row:
                    sort = NAMED.get((table.name, column))
                    for key in {one.value(column, row[column]) for one in clones} if sort else ():
                        if key and row[column] != key and (sort, key) not in self._known:
                            self._known.add((str(sort), key))
                            found += [(sort, part, key, self.bench) for part in parts_of(key)]
        self._write(text_part, ("sort", "part", "key", "bench"), found)

    def _renew_newest(self, number: int) -> None:
        shift = self.size * number - self._moved
        theirs = newest_fact.c.bench == self.bench, newest_fact.c.seq >= self.first
        moved = update(newest_fact).where(*theirs).values(seq=newest_fact.c.seq + shift)
        self.connection.execute(moved)
        self._moved += shift


def id_of(number: int) -> str:
    """Return the id of a clone: in no order of time, as the ids that the program draws."""
    return f"{number * 2654435761 % 2**32:08x}{number:024x}"
