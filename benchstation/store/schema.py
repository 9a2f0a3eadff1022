"""The tables. ``core`` is never altered in place; ``projections`` can be made again from it.

Times are ISO 8601 text in UTC with microseconds, which sorts by time on any database; SQLite's own
time type would lose the offset.
"""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Dialect,
    Float,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    TypeDecorator,
)

UTC_LENGTH = 27
KEY_LENGTH = 200
PART_LENGTH = 24
"""So many characters of a name are kept from each of its letters on."""


def utc_text(utc: datetime) -> str:
    """Return ``2026-01-31T12:00:00.000000Z``. Raises ``ValueError`` for a time without a zone."""
    if utc.tzinfo is None:
        raise ValueError("a time without a zone cannot be stored")
    return utc.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def utc_from(text: str) -> datetime:
    """Return the time of a stored text."""
    return datetime.fromisoformat(text).astimezone(UTC)


class UtcText(TypeDecorator[datetime]):
    """An aware time, kept as text in UTC."""

    impl = String(UTC_LENGTH)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:
        """Turn a time into its stored text."""
        return None if value is None else utc_text(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        """Turn a stored text into its time."""
        return None if value is None else utc_from(value)


core = MetaData()

meta = Table(
    "meta",
    core,
    Column("key", String(40), primary_key=True),
    Column("value", String(200), nullable=False),
)

# WITHOUT ROWID leaves the primary key as the only way to hit an existing row with a REPLACE.
journal = Table(
    "journal",
    core,
    Column("bench", String(64), primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("utc", String(UTC_LENGTH), nullable=False),
    Column("person", String(200), nullable=False),
    Column("kind", String(64), nullable=False),
    Column("unit_id", String(64), nullable=True),
    Column("body", LargeBinary, nullable=False),
    Column("prev", String(64), nullable=False),
    Column("hash", String(64), nullable=False),
    CheckConstraint("seq >= 1", name="ck_journal_seq"),
    CheckConstraint("length(prev) = 64 AND length(hash) = 64", name="ck_journal_hash"),
    Index("ix_journal_unit", "bench", "unit_id", "seq"),
    Index("ix_journal_kind", "bench", "kind", "seq"),
    sqlite_with_rowid=False,
)

trace = Table(
    "trace",
    core,
    Column("sha256", String(64), primary_key=True),
    Column("data", LargeBinary, nullable=False),
    CheckConstraint("length(sha256) = 64", name="ck_trace_sha256"),
)


photo = Table(
    "photo",
    core,
    Column("sha256", String(64), primary_key=True),
    Column("data", LargeBinary, nullable=False),
    CheckConstraint("length(sha256) = 64", name="ck_photo_sha256"),
)

tree_head = Table(
    "tree_head",
    core,
    Column("bench", String(64), primary_key=True),
    Column("size", Integer, primary_key=True, autoincrement=False),
    Column("root", String(64), nullable=False),
    Column("utc", String(UTC_LENGTH), nullable=False),
    Column("public_key", String(64), nullable=False),
    Column("signature", String(128), nullable=False),
    CheckConstraint("size >= 1 AND length(root) = 64", name="ck_tree_head"),
    sqlite_with_rowid=False,
)


def _append_only(table: str, key: str) -> dict[str, str]:
    words = f"the {table} is append-only"
    return {
        f"{table}_no_update": f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{words}'); END",
        f"{table}_no_delete": f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{words}'); END",
        # Names are this module's own constants.
        f"{table}_no_replace": f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "  # noqa: S608
        f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {key}) "
        f"BEGIN SELECT RAISE(ABORT, '{words}'); END",
    }


TRIGGERS: dict[str, str] = {
    **_append_only("journal", "bench = NEW.bench AND seq = NEW.seq"),
    # Large rows in a table WITHOUT ROWID take five times as long; so here the row's number can be
    # hit as well. A row that names none has -1 there.
    **_append_only("trace", "sha256 = NEW.sha256 OR rowid = NEW.rowid"),
    **_append_only("photo", "sha256 = NEW.sha256 OR rowid = NEW.rowid"),
    **_append_only("tree_head", "bench = NEW.bench AND size = NEW.size"),
}
"""Trigger name to its statement: a guard against accidents; against intent there is the chain."""

projections = MetaData()


def _bench() -> Column[str]:
    """Return the first column of every key: one database may hold what several benches did."""
    return Column("bench", String(64), primary_key=True)


def _newest_of(name: str, key: str) -> Index:
    """Return an index by which units with a key, or one that begins so, are read newest first."""
    return Index(name, key, "sort_utc", "unit_id", "bench")


tree_node = Table(
    "tree_node",
    projections,
    Column("bench", String(64), primary_key=True),
    Column("level", Integer, primary_key=True, autoincrement=False),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("hash", LargeBinary(32), nullable=False),
    sqlite_with_rowid=False,
)

unit = Table(
    "unit",
    projections,
    _bench(),
    Column("unit_id", String(64), primary_key=True),
    Column("serial", String(200), nullable=False),
    Column("serial_key", String(200), nullable=False),
    Column("family", String(200), nullable=False),
    Column("family_key", String(200), nullable=False),
    Column("title", String(200), nullable=False),
    Column("specification_id", String(200), nullable=False),
    Column("revision", Integer, nullable=False),
    Column("order", String(200), nullable=False),
    Column("order_key", String(200), nullable=False),
    Column("position", String(200), nullable=False),
    Column("oil_lot", String(200), nullable=False),
    Column("technician", String(200), nullable=False),
    Column("filed_by", String(200), nullable=False),
    Column("opened_utc", UtcText, nullable=False),
    Column("filed_utc", UtcText),
    Column("sort_utc", UtcText, nullable=False),
    Column("state", String(10), nullable=False),
    Column("decision", String(20), nullable=False),
    Column("qa_hold", Boolean, nullable=False),
    Column("disposition", String(20), nullable=False),
    Column("net_oil_kg", Float),
    Column("target_kg", Float),
    Column("settled_gauge_pa", Float),
    Column("target_gauge_pa", Float),
    Column("opened_seq", Integer, nullable=False),
    Column("filed_seq", Integer),
    Column("standing", String(40), nullable=False),
    Column("customer", String(200), nullable=False),
    Column("shipped_utc", UtcText),
    Column("returned_utc", UtcText),
    Column("amended", Integer, nullable=False),
    Column("notice", String(80), nullable=False),
    Column("serial_as_filed", String(200), nullable=False),
    Column("order_as_filed", String(200), nullable=False),
    Column("position_as_filed", String(200), nullable=False),
    Column("decision_as_filed", String(20), nullable=False),
    CheckConstraint("state IN ('open', 'aside', 'filed', 'abandoned')", name="ck_unit_state"),
    Index("ix_unit_id", "unit_id", "bench"),
    Index("ix_unit_newest", "sort_utc", "unit_id", "bench"),
    Index("ix_unit_state", "state", "sort_utc", "unit_id", "bench"),
    _newest_of("ix_unit_serial", "serial_key"),
    _newest_of("ix_unit_order", "order_key"),
    _newest_of("ix_unit_family", "family_key"),
    _newest_of("ix_unit_technician", "technician"),
    _newest_of("ix_unit_filed_by", "filed_by"),
    _newest_of("ix_unit_standing", "standing"),
    _newest_of("ix_unit_notice", "notice"),
    Index("ix_unit_shipped", "shipped_utc", "unit_id", "bench"),
    Index("ix_unit_returned", "returned_utc", "unit_id", "bench"),
    Index("ix_unit_at_hand", "bench", "state", "opened_seq"),
    Index("ix_unit_oil_lot", "bench", "oil_lot", "opened_seq"),
)

unit_instrument = Table(
    "unit_instrument",
    projections,
    _bench(),
    Column("unit_id", String(64), primary_key=True),
    Column("instrument_id", String(200), primary_key=True),
    Column("sort_utc", UtcText, nullable=False),
    _newest_of("ix_unit_instrument", "instrument_id"),
    sqlite_with_rowid=False,
)

unit_material = Table(
    "unit_material",
    projections,
    _bench(),
    Column("unit_id", String(64), primary_key=True),
    Column("step_id", String(200), primary_key=True),
    Column("input", String(200), primary_key=True),
    Column("sort", String(40), nullable=False),
    Column("number", String(200), nullable=False),
    Column("lot", String, nullable=False),
    Column("lot_key", String(KEY_LENGTH), nullable=False),
    Column("sort_utc", UtcText, nullable=False),
    _newest_of("ix_unit_material_lot", "lot_key"),
    sqlite_with_rowid=False,
)

unit_lot = Table(
    "unit_lot",
    projections,
    _bench(),
    Column("unit_id", String(64), primary_key=True),
    Column("lot", String(200), primary_key=True),
    Column("lot_key", String(KEY_LENGTH), nullable=False),
    Column("sort_utc", UtcText, nullable=False),
    _newest_of("ix_unit_lot", "lot_key"),
    sqlite_with_rowid=False,
)

# Each customer that a unit was shipped to: one that came back may go to another.
unit_customer = Table(
    "unit_customer",
    projections,
    _bench(),
    Column("unit_id", String(64), primary_key=True),
    Column("customer_key", String(200), primary_key=True),
    Column("sort_utc", UtcText, nullable=False),
    _newest_of("ix_unit_customer", "customer_key"),
    sqlite_with_rowid=False,
)

# A serial or order that an amendment corrected: the unit is found by it as well.
unit_former = Table(
    "unit_former",
    projections,
    _bench(),
    Column("unit_id", String(64), primary_key=True),
    Column("name_key", String(200), primary_key=True),
    Column("sort_utc", UtcText, nullable=False),
    _newest_of("ix_unit_former", "name_key"),
    sqlite_with_rowid=False,
)

# What was written at length is found by the beginnings of its words.
unit_word = Table(
    "unit_word",
    projections,
    _bench(),
    Column("unit_id", String(64), primary_key=True),
    Column("step_id", String(200), primary_key=True),
    Column("input", String(200), primary_key=True),
    Column("part", String(PART_LENGTH + 1), primary_key=True),
    Column("sort_utc", UtcText, nullable=False),
    _newest_of("ix_unit_word", "part"),
    sqlite_with_rowid=False,
)

# What was judged of a unit when it ended, once, so that a chart reads no record.
unit_figure = Table(
    "unit_figure",
    projections,
    _bench(),
    Column("unit_id", String(64), primary_key=True),
    Column("ended_utc", UtcText, nullable=False),
    Column("first_pass", Boolean, nullable=False),
    Column("reopened", Integer, nullable=False),
    Column("oil_kg", Float),
    Column("oil_target_kg", Float),
    Column("oil_tolerance_kg", Float),
    Column("oil_u_kg", Float),
    Column("oil_decision", String(20), nullable=False),
    Column("charge_pa", Float),
    Column("charge_target_pa", Float),
    Column("charge_tolerance_pa", Float),
    Column("charge_u_pa", Float),
    Column("charge_decision", String(20), nullable=False),
    Column("leak_pa_m3_s", Float),
    Column("leak_allowed_pa_m3_s", Float),
    Column("leak_u_pa_m3_s", Float),
    Column("leak_scatter_pa_m3_s", Float),
    Column("leak_slow_pa_m3_s", Float),
    Column("leak_stuck", Boolean, nullable=False),
    Column("leak_decision", String(20), nullable=False),
    sqlite_with_rowid=False,
)

unit_deviation = Table(
    "unit_deviation",
    projections,
    _bench(),
    Column("unit_id", String(64), primary_key=True),
    Column("place", Integer, primary_key=True, autoincrement=False),
    Column("step_id", String(200), nullable=False),
    Column("step", String(200), nullable=False),
    sqlite_with_rowid=False,
)

# The key is the index: the last units of any group, within a family or (empty) all of them.
figure_group = Table(
    "figure_group",
    projections,
    Column("sort", String(20), primary_key=True),
    Column("family_key", String(200), primary_key=True),
    Column("name", String(300), primary_key=True),
    Column("ended_utc", UtcText, primary_key=True),
    Column("unit_id", String(64), primary_key=True),
    _bench(),
    Column("first_pass", Boolean, nullable=False),
    sqlite_with_rowid=False,
)

# Who signed, deviations, verdict, QA's standing: one row each, all found by one index.
unit_mark = Table(
    "unit_mark",
    projections,
    _bench(),
    Column("unit_id", String(64), primary_key=True),
    Column("sort", String(20), primary_key=True),
    Column("key", String(200), primary_key=True),
    Column("sort_utc", UtcText, nullable=False),
    Index("ix_unit_mark", "sort", "key", "sort_utc", "unit_id", "bench"),
    sqlite_with_rowid=False,
)

# Who was told of a unit that a question found; the desk tells of units of every bench.
notice = Table(
    "notice",
    projections,
    _bench(),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("rebuild", String(64), nullable=False),
    Index("ix_notice", "rebuild", "bench", "seq"),
    sqlite_with_rowid=False,
)

# The last entry of a kind about each thing, so that nobody reads all of them for it.
newest_fact = Table(
    "newest_fact",
    projections,
    _bench(),
    Column("kind", String(64), primary_key=True),
    Column("name", String(200), primary_key=True),
    Column("part", String(200), primary_key=True),
    Column("seq", Integer, nullable=False),
    sqlite_with_rowid=False,
)

# A text within a name is found as the beginning of what is left from there on.
text_part = Table(
    "text_part",
    projections,
    Column("sort", String(20), primary_key=True),
    Column("part", String(PART_LENGTH), primary_key=True),
    Column("key", String, primary_key=True),
    _bench(),
    sqlite_with_rowid=False,
)

# A row for the first evidence of a unit by an instrument, and for the first after each check.
evidence = Table(
    "evidence",
    projections,
    _bench(),
    Column("instrument_id", String(200), primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("unit_id", String(64), nullable=False),
    Index("ix_evidence_unit", "bench", "unit_id", "instrument_id", "seq"),
    sqlite_with_rowid=False,
)

instrument_check = Table(
    "instrument_check",
    projections,
    _bench(),
    Column("instrument_id", String(200), primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("passed", Boolean, nullable=False),
    Column("counts", Boolean, nullable=False),
    Index("ix_instrument_check", "bench", "instrument_id", "counts", "passed", "seq"),
    sqlite_with_rowid=False,
)

unit_aside = Table(
    "unit_aside",
    projections,
    _bench(),
    Column("unit_id", String(64), primary_key=True),
    Column("reason", String, nullable=False),
    Column("gas", String(64), nullable=False),
    Column("since_utc", UtcText, nullable=False),
    Column("due_utc", String(40), nullable=False),
)

shop_order = Table(
    "shop_order",
    projections,
    _bench(),
    Column("order", String(200), primary_key=True),
    Column("order_key", String(200), nullable=False),
    Column("due", String(10), nullable=False),
    Column("note", String, nullable=False),
    Column("matched", Boolean, nullable=False),
    Column("placed_by", String(200), nullable=False),
    Column("placed_utc", UtcText, nullable=False),
    Index("ix_shop_order", "bench", "order_key"),
)

order_line = Table(
    "order_line",
    projections,
    _bench(),
    Column("line", String(64), primary_key=True),
    Column("order", String(200), nullable=False),
    Column("place", Integer, nullable=False),
    Column("serial", String(200), nullable=False),
    Column("serial_key", String(200), nullable=False),
    Column("specification_id", String(200), nullable=False),
    Column("position", String(200), nullable=False),
    Column("state", String(20), nullable=False),
    Column("unit_id", String(64), nullable=False),
    Column("reason", String, nullable=False),
    Column("changed_utc", UtcText, nullable=False),
    Index("ix_order_line_order", "bench", "order", "place"),
    Index("ix_order_line_serial", "serial_key"),
    Index("ix_order_line_state", "bench", "state", "order"),
    Index("ix_order_line_changed", "bench", "changed_utc", "order"),
    Index("ix_order_line_unit", "bench", "unit_id"),
)

shop_fact = Table(
    "shop_fact",
    projections,
    Column("bench", String(64), primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("sort", String(20), nullable=False),
    Column("subject", String, nullable=False),
    Index("ix_shop_fact_subject", "subject", "bench", "seq"),
    Index("ix_shop_fact_sort", "sort", "bench", "seq"),
    sqlite_with_rowid=False,
)

specification = Table(
    "specification",
    projections,
    _bench(),
    Column("specification_id", String(200), primary_key=True),
    Column("revision", Integer, primary_key=True, autoincrement=False),
    Column("family", String(200), nullable=False),
    Column("title", String(200), nullable=False),
    Column("content_sha256", String(64), nullable=False),
    Column("seq", Integer, nullable=False),
)


def _latest_of(table: str, key: str, *more: Column[str]) -> Table:
    return Table(
        table,
        projections,
        _bench(),
        Column(key, String(200), primary_key=True),
        Column("seq", Integer, nullable=False),
        *more,
    )


oil_lot = _latest_of("oil_lot", "lot")
person = _latest_of("person", "person_id")
instrument = _latest_of("instrument", "instrument_id", Column("role", String(200), nullable=False))

alarm_episode = Table(
    "alarm_episode",
    projections,
    _bench(),
    Column("episode", String(200), primary_key=True),
    Column("unit_id", String(64), nullable=False),
    Column("alarm", String(200), nullable=False),
    Column("state", String(64), nullable=False),
    Column("started_utc", UtcText, nullable=False),
    Column("ended_utc", UtcText),
    Column("peak_gauge_pa", Float),
    Column("acknowledged_by", String(200), nullable=False),
    Column("reason", String, nullable=False),
    Column("trace_sha256", String(64), nullable=False),
    Index("ix_alarm_episode_unit", "bench", "unit_id", "started_utc"),
)
