"""The shop's tables: made from nothing, brought up to date, refused where they are not ours."""

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import MetaData, inspect, text

from benchstation.store import projections
from benchstation.store.errors import NewerStoreError, StoreCorruptError, StoreError
from benchstation.store.migrations import set_value
from benchstation.store.shop import form
from benchstation.store.shop.tables import shop_core, shop_projections
from tests.shop_server import WHEN, shop_engine


@pytest.fixture
def empty(empty_database):
    engine = shop_engine(empty_database)
    yield engine
    engine.dispose()


def test_a_shop_is_made_from_an_empty_database_once(empty):
    assert form.bring_up_to_date(empty, WHEN)
    assert not form.bring_up_to_date(empty, WHEN)
    with empty.connect() as connection:
        form.require_current(connection, "here")
        chains = connection.execute(text("SELECT bench, joined_utc FROM bench_chain")).all()
    assert chains == [("shop", "2026-03-01T08:00:00.000000Z")]


def test_the_tables_are_those_that_the_program_reads_by(shop):
    both = MetaData()
    for tables in (shop_core, shop_projections):
        for table in tables.sorted_tables:
            table.to_metadata(both)
    with shop.owner.connect() as connection:
        context = MigrationContext.configure(connection)
        assert compare_metadata(context, both) == []
        kept = {"meta", *shop_core.tables, *shop_projections.tables, "alembic_version"}
        assert set(inspect(connection).get_table_names()) == kept


def test_every_text_sorts_by_its_code_points(shop):
    language = shop.rows("SELECT 'a' < 'B' COLLATE \"default\" FROM meta LIMIT 1")
    others = shop.rows(
        "SELECT table_name, column_name FROM information_schema.columns WHERE table_schema = "
        "'public' AND data_type = 'character varying' AND collation_name IS DISTINCT FROM 'C' "
        "AND table_name <> 'alembic_version'"
    )
    assert others == []
    # Shows that the columns differ from what the database would do by itself.
    assert language == [(True,)]


def test_a_database_of_something_else_is_refused_and_left_alone(empty):
    with empty.begin() as connection:
        connection.execute(text("CREATE TABLE invoices (id int)"))
    with pytest.raises(StoreCorruptError, match="tables of something else"):
        form.bring_up_to_date(empty, WHEN)
    with empty.connect() as connection:
        assert inspect(connection).get_table_names() == ["invoices"]
        with pytest.raises(StoreCorruptError, match="does not hold a shop"):
            form.require_current(connection, "here")


def test_a_newer_shop_is_refused(shop):
    with shop.owner.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '99'"))
    with pytest.raises(NewerStoreError, match="form 99, this one knows"):
        form.bring_up_to_date(shop.owner, WHEN)
    with shop.owner.connect() as connection, pytest.raises(NewerStoreError):
        form.require_current(connection, "here")


def test_lists_of_an_older_version_are_refused_until_they_are_made_again(shop):
    with shop.owner.begin() as connection:
        set_value(connection, form.PROJECTIONS, "0")
        connection.execute(text("INSERT INTO projected VALUES ('b', 7, 'x')"))
    with shop.owner.connect() as connection, pytest.raises(StoreError, match="older version"):
        form.require_current(connection, "here")
    assert not form.bring_up_to_date(shop.owner, WHEN)
    with shop.owner.connect() as connection:
        form.require_current(connection, "here")
    assert shop.rows("SELECT * FROM projected") == []
    assert shop.rows("SELECT value FROM meta WHERE key = 'projections'") == [(projections.VERSION,)]


def test_nothing_is_made_when_a_step_fails(empty, monkeypatch):
    def fail(_):
        raise RuntimeError("in the middle")

    monkeypatch.setattr(form, "make_rules", fail)
    with pytest.raises(RuntimeError):
        form.bring_up_to_date(empty, WHEN)
    with empty.connect() as connection:
        assert inspect(connection).get_table_names() == []
