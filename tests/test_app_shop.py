"""The window of a bench that joined a shop: what it exchanges runs beside it and is said there."""

import pytest

from benchstation import app
from benchstation.cli.main import main
from benchstation.config.settings import load_settings, save_settings
from benchstation.store.engine import open_store
from benchstation.store.shop.passwords import PASSWORD_VARIABLE
from tests.bench.onboarding.test_set_up import folder  # noqa: F401 - a fixture
from tests.shop_server import PASSWORD
from tests.store.shop.conftest import chain_at
from tests.test_app import devices  # noqa: F401 - a fixture
from tests.waiting import eventually


def set_up(folder, devices):  # noqa: F811
    text = (folder / "bench.toml").read_text("utf-8")
    for port, url in zip(("/dev/ttyUSB0", "/dev/ttyUSB1"), devices, strict=True):
        text = text.replace(f'"{port}"', f'"{url}"')
    (folder / "bench.toml").write_text(text, "utf-8")
    assert main(["set-up", str(folder / "bench.toml")]) == 0


def notes(port):
    return " ".join(port.view().notes)


@pytest.fixture
def joined(folder, devices, shop, monkeypatch):  # noqa: F811
    set_up(folder, devices)
    settings = load_settings()
    url = shop.bench_address(settings.bench_id).text
    save_settings(settings.model_copy(update={"shop_url": url}))
    monkeypatch.setenv(PASSWORD_VARIABLE, PASSWORD)
    return folder


def test_a_bench_that_joined_sends_while_it_runs_and_says_so(joined, shop, monkeypatch):
    def window(port, **_):
        eventually(lambda: "Shop: all is sent, last sent" in notes(port))
        port.act("sign_in", {"person": "second", "pin": "864209"}).result(5)
        eventually(lambda: chain_at(shop, "bench-1")[-1][4] == "person.signed_in")
        return 0

    monkeypatch.setattr(app, "run_window", window)
    assert app.run_bench(load_settings()) == 0
    file = joined / "home" / "data" / app.STORE_FILE
    with open_store(file, "bench-1", read_only=True) as store:
        assert store.verify().problem == ""
        last = store.head()[0]
    # What was added at the very end is sent at the next start.
    assert 0 <= last - len(chain_at(shop, "bench-1")) < 5


def test_a_bench_whose_shop_is_away_or_named_wrongly_works_on(joined, monkeypatch):
    said = []

    def window(port, **_):
        eventually(lambda: "Shop:" in notes(port))
        port.act("sign_in", {"person": "second", "pin": "864209"}).result(5)
        said.append((port.view().person, notes(port)))
        return 0

    monkeypatch.setattr(app, "run_window", window)
    for url in ("postgresql://bench@127.0.0.1:1/shop", "postgresql://bench@127.0.0.1/"):
        settings = load_settings().model_copy(update={"shop_url": url})
        assert app.run_bench(settings) == 0
    (_, away), (_, wrong) = said
    assert [person for person, _ in said] == ["Second Lead", "Second Lead"]
    assert "Shop: not reached yet" in away
    assert "no address of a PostgreSQL database" in wrong
