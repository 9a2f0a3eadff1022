"""Make the tables of the chains and their content."""

import sqlalchemy as sa
from alembic import op

revision = "1"
down_revision = None
branch_labels = None
depends_on = None


def _text(length: int | None = None) -> sa.String:
    # Texts sort and compare by their code points, as in a bench's file.
    return sa.String(length, collation="C")


def upgrade() -> None:
    """Create the tables."""
    op.create_table(
        "meta",
        sa.Column("key", _text(40), primary_key=True),
        sa.Column("value", _text(200), nullable=False),
    )
    op.create_table(
        "journal",
        sa.Column("bench", _text(64), primary_key=True),
        sa.Column("seq", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("utc", _text(27), nullable=False),
        sa.Column("person", _text(200), nullable=False),
        sa.Column("kind", _text(64), nullable=False),
        sa.Column("unit_id", _text(64)),
        sa.Column("body", sa.LargeBinary, nullable=False),
        sa.Column("prev", _text(64), nullable=False),
        sa.Column("hash", _text(64), nullable=False),
        sa.CheckConstraint("seq >= 1", name="ck_journal_seq"),
        sa.CheckConstraint("length(prev) = 64 AND length(hash) = 64", name="ck_journal_hash"),
    )
    op.create_index("ix_journal_unit", "journal", ["bench", "unit_id", "seq"])
    op.create_index("ix_journal_kind", "journal", ["bench", "kind", "seq"])
    op.create_index("uq_journal_hash", "journal", ["hash"], unique=True)
    for table in ("trace", "photo"):
        op.create_table(
            table,
            sa.Column("sha256", _text(64), primary_key=True),
            sa.Column("data", sa.LargeBinary, nullable=False),
            sa.CheckConstraint("sha256 = encode(sha256(data), 'hex')", name=f"ck_{table}_sha256"),
        )
        # Both are compressed already; trying once more costs time and gains nothing.
        op.execute(f"ALTER TABLE {table} ALTER COLUMN data SET STORAGE EXTERNAL")
    op.create_table(
        "tree_head",
        sa.Column("bench", _text(64), primary_key=True),
        sa.Column("size", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("root", _text(64), nullable=False),
        sa.Column("utc", _text(27), nullable=False),
        sa.Column("public_key", _text(64), nullable=False),
        sa.Column("signature", _text(128), nullable=False),
        sa.CheckConstraint("size >= 1 AND length(root) = 64", name="ck_tree_head"),
    )
    op.create_table(
        "bench_chain",
        sa.Column("bench", _text(64), primary_key=True),
        sa.Column("login_role", _text(63), nullable=False),
        sa.Column("joined_utc", _text(27), nullable=False),
        sa.Column("public_key", _text(64), nullable=False),
    )
    op.create_table(
        "fork",
        sa.Column("bench", _text(64), primary_key=True),
        sa.Column("seq", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("hash_there", _text(64), nullable=False),
        sa.Column("hash_given", _text(64), primary_key=True),
        sa.Column("utc", _text(27), nullable=False),
        sa.Column("entry", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "projected",
        sa.Column("bench", _text(64), primary_key=True),
        sa.Column("seq", sa.Integer, nullable=False),
        sa.Column("hash", _text(64), nullable=False),
    )


def downgrade() -> None:
    """Refuse: nothing that is on record is taken away."""
    raise NotImplementedError("the shop's tables are never taken back to an older form")
