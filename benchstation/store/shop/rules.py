"""Who may do what in the shop's database, held by the database itself.

Three groups: a bench adds to its own chain and reads; a desk adds to the shop's chain and keeps the
searched tables; a reader reads. Nobody changes or deletes what is on record: there is no grant for
it, and a trigger refuses it to the owner too. ``COPY`` and row-level security exclude each other,
so a trigger judges each statement's rows as a whole.
"""

from sqlalchemy import Connection

from benchstation.store.shop.tables import shop_projections

BENCH_MEMBER, SHOP_DESK, SHOP_READER = "bench_member", "shop_desk", "shop_reader"
GROUPS = (BENCH_MEMBER, SHOP_DESK, SHOP_READER)

APPEND_ONLY, NOT_YOUR_CHAIN, NOT_NEXT, NOT_YOUR_KIND = "BS001", "BS002", "BS003", "BS004"
"""The states (``SQLSTATE``) that the triggers raise."""

_APPENDED = ("journal", "trace", "photo", "tree_head", "fork")
_KEPT = (*_APPENDED, "bench_chain")
_PATH = "SET search_path = public, pg_temp"

_GROUPS = [
    f"DO $$ BEGIN IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = '{group}') "
    f"THEN CREATE ROLE {group} NOLOGIN; END IF; END $$"
    for group in GROUPS
]

_OWNS_CHAIN = f"""
CREATE OR REPLACE FUNCTION owns_chain(which text) RETURNS boolean
LANGUAGE sql STABLE SECURITY DEFINER {_PATH} AS $$
    SELECT CASE WHEN which = 'shop' THEN pg_has_role(session_user, '{SHOP_DESK}', 'MEMBER')
        OR session_user = (SELECT pg_get_userbyid(datdba) FROM pg_database
                           WHERE datname = current_database())
    ELSE EXISTS (SELECT FROM bench_chain WHERE bench = which AND login_role = session_user) END
$$
"""  # noqa: S608

# SELECT ... FOR UPDATE needs the right to update, which nobody has; so the owner does it.
_LOCK_CHAIN = f"""
CREATE OR REPLACE FUNCTION lock_chain(which text) RETURNS void
LANGUAGE plpgsql SECURITY DEFINER {_PATH} AS $$
BEGIN
    IF NOT (which = 'shop' OR owns_chain(which)) THEN
        RAISE EXCEPTION 'the chain % is not yours', which USING ERRCODE = '{NOT_YOUR_CHAIN}';
    END IF;
    PERFORM FROM bench_chain WHERE bench = which FOR UPDATE;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'there is no chain %', which USING ERRCODE = '{NOT_YOUR_CHAIN}';
    END IF;
END $$
"""

_APPEND_TO_CHAIN = f"""
CREATE OR REPLACE FUNCTION append_to_chain() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER {_PATH} AS $$
DECLARE
    part record;
    head record;
    broken record;
BEGIN
    FOR part IN SELECT bench, min(seq) AS first, max(seq) AS last, count(*) AS entries
                FROM added GROUP BY bench ORDER BY bench LOOP
        PERFORM FROM bench_chain WHERE bench = part.bench FOR UPDATE;
        IF NOT FOUND THEN
            RAISE EXCEPTION 'there is no chain %', part.bench
                USING ERRCODE = '{NOT_YOUR_CHAIN}';
        END IF;
        IF NOT owns_chain(part.bench) THEN
            IF NOT (part.bench = 'shop'
                    AND pg_has_role(session_user, '{BENCH_MEMBER}', 'MEMBER')) THEN
                RAISE EXCEPTION 'the chain % is not yours', part.bench
                    USING ERRCODE = '{NOT_YOUR_CHAIN}';
            END IF;
            IF EXISTS (SELECT FROM added WHERE bench = 'shop'
                       AND kind NOT IN ('shop.adopted', 'shop.conflict')) THEN
                RAISE EXCEPTION 'a bench adds no such entry to the chain of the shop'
                    USING ERRCODE = '{NOT_YOUR_KIND}';
            END IF;
        END IF;
        SELECT seq, hash INTO head FROM journal
            WHERE bench = part.bench AND seq < part.first ORDER BY seq DESC LIMIT 1;
        IF part.first <> coalesce(head.seq, 0) + 1
                OR part.last - part.first + 1 <> part.entries THEN
            RAISE EXCEPTION 'entry % of % leaves a gap', part.first, part.bench
                USING ERRCODE = '{NOT_NEXT}';
        END IF;
        SELECT seq INTO broken FROM (
            SELECT seq, prev, lag(hash, 1, coalesce(head.hash, repeat('0', 64)))
                OVER (ORDER BY seq) AS before FROM added WHERE bench = part.bench
        ) AS chained WHERE prev <> before ORDER BY seq LIMIT 1;
        IF FOUND THEN
            RAISE EXCEPTION 'entry % of % does not follow the one before', broken.seq, part.bench
                USING ERRCODE = '{NOT_NEXT}';
        END IF;
    END LOOP;
    RETURN NULL;
END $$
"""  # noqa: S608

_OWN_ROWS = f"""
CREATE OR REPLACE FUNCTION own_rows() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER {_PATH} AS $$
BEGIN
    IF EXISTS (SELECT FROM added WHERE NOT owns_chain(bench)) THEN
        RAISE EXCEPTION 'rows of this chain are not yours to add'
            USING ERRCODE = '{NOT_YOUR_CHAIN}';
    END IF;
    RETURN NULL;
END $$
"""

_REFUSE_CHANGE = f"""
CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% of % is refused: it is append-only', TG_OP, TG_TABLE_NAME
        USING ERRCODE = '{APPEND_ONLY}';
END $$
"""


# What PINs and badges are checked by is nobody's but the benches' and the desks'.
_OPEN_JOURNAL = r"""
CREATE OR REPLACE VIEW open_journal AS
    SELECT bench, seq, utc, person, kind, unit_id, body, prev, hash FROM journal
    WHERE kind NOT LIKE 'person.%' AND kind NOT LIKE 'badge%'
    AND (kind NOT IN ('shop.adopted', 'shop.conflict')
         OR convert_from(body, 'UTF8') !~ '"what":"(person\.|badge)')
"""


def _trigger(name: str, table: str, when: str, function: str) -> list[str]:
    return [
        f"DROP TRIGGER IF EXISTS {name} ON {table}",
        f"CREATE TRIGGER {name} {when} ON {table} {{rows}} FOR EACH STATEMENT "
        f"EXECUTE FUNCTION {function}()",
    ]


def _triggers() -> list[str]:
    found = [
        *_trigger("journal_append", "journal", "AFTER INSERT", "append_to_chain"),
        *_trigger("tree_head_own", "tree_head", "AFTER INSERT", "own_rows"),
        *_trigger("fork_own", "fork", "AFTER INSERT", "own_rows"),
    ]
    found = [line.format(rows="REFERENCING NEW TABLE AS added") for line in found]
    for table in _KEPT:
        # A chain's own row gets its new key or login from the owner, and is never taken away.
        what = "DELETE OR TRUNCATE" if table == "bench_chain" else "UPDATE OR DELETE OR TRUNCATE"
        lines = _trigger(f"{table}_kept", table, f"BEFORE {what}", "refuse_change")
        found += [line.format(rows="") for line in lines]
    return found


def _grants() -> list[str]:
    everybody = ", ".join(GROUPS)
    appended, made = ", ".join(_APPENDED), ", ".join(shop_projections.tables)
    known = "meta, alembic_version, bench_chain"
    return [
        "REVOKE ALL ON ALL TABLES IN SCHEMA public FROM PUBLIC",
        f"REVOKE ALL ON ALL TABLES IN SCHEMA public FROM {everybody}",
        "REVOKE ALL ON ALL FUNCTIONS IN SCHEMA public FROM PUBLIC",
        "REVOKE CREATE ON SCHEMA public FROM PUBLIC",
        f"GRANT USAGE ON SCHEMA public TO {everybody}",
        f"GRANT SELECT ON {appended}, {known} TO {BENCH_MEMBER}, {SHOP_DESK}",
        f"GRANT SELECT ON trace, photo, tree_head, fork, {known}, open_journal TO {SHOP_READER}",
        f"GRANT SELECT (bench, seq, utc, person, kind, unit_id, prev, hash) ON journal "
        f"TO {SHOP_READER}",
        f"GRANT INSERT ON {appended} TO {BENCH_MEMBER}, {SHOP_DESK}",
        f"GRANT EXECUTE ON FUNCTION lock_chain(text), owns_chain(text) "
        f"TO {BENCH_MEMBER}, {SHOP_DESK}",
        f"GRANT SELECT, INSERT, UPDATE, DELETE ON {made}, projected TO {SHOP_DESK}",
        f"GRANT SELECT ON {made}, projected TO {SHOP_READER}",
    ]


# A login of another database on the same server has no business here.
_CONNECT = f"""
DO $$ BEGIN
    EXECUTE format('REVOKE ALL ON DATABASE %I FROM PUBLIC', current_database());
    EXECUTE format('GRANT CONNECT ON DATABASE %I TO {SHOP_READER}', current_database());
END $$
"""


def make_groups(connection: Connection) -> None:
    """Create the groups that are not there yet; they belong to the whole server."""
    _run(connection, _GROUPS)


def make_rules(connection: Connection) -> None:
    """Create functions, triggers and grants, each in its newest form."""
    functions = [_OWNS_CHAIN, _LOCK_CHAIN, _APPEND_TO_CHAIN, _OWN_ROWS, _REFUSE_CHANGE]
    _run(connection, [*functions, *_triggers(), _OPEN_JOURNAL, *_grants(), _CONNECT])


def _run(connection: Connection, statements: list[str]) -> None:
    # Every name in them is this module's own.
    for statement in statements:
        connection.exec_driver_sql(statement.replace("%", "%%"))
