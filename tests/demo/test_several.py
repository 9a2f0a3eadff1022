"""Several benches of the demonstration with one shop, on a real database."""

from datetime import UTC, datetime

import pytest

from benchstation import app
from benchstation.cli.main import main
from benchstation.config.settings import load_settings, save_settings
from benchstation.crash import CrashHooks
from benchstation.demo import several
from benchstation.demo import shop as demo
from benchstation.store.backends import own_server
from benchstation.store.engine import open_store
from benchstation.store.search import find_units
from benchstation.store.shop.shop_store import open_shop

FILE = "records.sqlite"
NOW = datetime(2026, 3, 4, 15, 0, tzinfo=UTC)


def test_each_bench_works_with_the_shops_people_and_sends_its_units(
    empty_database, shop_server, tmp_path
):
    said = []
    made = several.make_shop(
        empty_database, tmp_path, 2, NOW, FILE, lambda *done: said.append(done), units=1
    )
    assert said == [(0, 2), (1, 2)]
    with open_shop(made.desk.address) as shop:
        found = find_units(shop)
        assert {unit.bench for unit in found} == {"bay-1", "bay-2"}
        assert all(unit.filed_utc for unit in found)
        assert set(shop.people()) >= {demo.LEAD, demo.QA}
        (conflict,) = shop.conflicts()
        assert conflict.subject == f"lot:{several.DISPUTED.casefold()}"
        assert conflict.fact.bench in ("bay-1", "bay-2")
        assert shop.verify().ok
    for bench in made.benches:
        with open_store(bench.home / "data" / FILE, bench.name, read_only=True) as store:
            assert demo.demo_shop(store).people[demo.LEAD].name
            assert store.head()[0] > 50
    shop_server.drop(empty_database.url.database)
    for login in (made.desk, *(bench.login for bench in made.benches)):
        shop_server.run(f'DROP ROLE "{login.address.url.username}"')


@pytest.fixture
def windows(monkeypatch):
    """What windows were opened; each is closed at once."""
    opened = []

    def run(station, **options):
        opened.append((station.view(), options))
        return 0

    monkeypatch.setattr(app, "run_window", run)
    monkeypatch.setattr(CrashHooks, "install", lambda self: self)
    return opened


def test_the_command_makes_a_shop_and_throws_all_of_it_away(windows, monkeypatch, capsys):
    if own_server.server_programs() is None:
        pytest.skip("no PostgreSQL server is installed")
    homes, servers = [], []
    make = own_server.OwnServer.make
    monkeypatch.setattr(
        own_server.OwnServer, "make", lambda self: (servers.append(self), make(self))[1]
    )
    monkeypatch.setattr(several, "UNITS", 1)
    real = several.make_shop
    monkeypatch.setattr(several, "make_shop", lambda *given: real(*given, 1))
    monkeypatch.setenv("BENCHSTATION_HOME", "/nowhere")

    class Ended:
        def terminate(self):
            pass

        wait = terminate

    def start(home, password):
        settings = load_settings(home / "settings.json")
        assert password not in (home / "settings.json").read_text()
        homes.append((home, settings.bench_id))
        return Ended()

    monkeypatch.setattr(app, "_start_bench", start)
    assert main(["demo", "--benches", "1"]) == 0
    ((view, options),) = windows
    assert options["whole_shop"]
    assert view.shop == demo.NAME
    ((home, name),) = homes
    assert name == "bay-1"
    (server,) = servers
    assert not home.exists()
    assert not server.folder.exists()


def test_a_bench_of_it_shows_its_own_records(windows, tmp_path, monkeypatch):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path))
    monkeypatch.setattr(app, "STORE_FILE", FILE)
    with open_store(tmp_path / "data" / FILE, "bay-7") as store:
        demo.found(store, NOW)
        store.append(demo.air_instruments(NOW.date()), person=demo.LEAD, utc=NOW)
    save_settings(load_settings().model_copy(update={"bench_id": "bay-7"}))
    assert main(["demo", "--bench-at", str(tmp_path)]) == 0
    ((view, _),) = windows
    assert view.bench == "bay-7"


def test_without_a_server_it_says_what_is_missing(monkeypatch, capsys):
    monkeypatch.setattr(own_server, "server_programs", lambda: None)
    assert main(["demo", "--benches", "3"]) == 2
    assert "apt install postgresql" in capsys.readouterr().err
