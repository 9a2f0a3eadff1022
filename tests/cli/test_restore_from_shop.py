"""``benchstation restore --shop``, and the start of a bench whose file is an older copy."""

import shutil
from datetime import UTC, datetime

import pytest

from benchstation import app
from benchstation.bench.forwarding import Forwarder
from benchstation.cli.main import main
from benchstation.config.settings import home_folder, load_settings
from benchstation.domain.events import OilLotReceived
from benchstation.store.backends.postgresql import shop_address
from benchstation.store.errors import BehindError
from benchstation.store.shop.passwords import login_at
from tests.cli.test_shop import as_bench, at, join, opened, owner, ring
from tests.shop_server import WHEN
from tests.waiting import eventually

__all__ = ["at", "owner", "ring"]


def lot(number):
    return OilLotReceived(f"L-{number}", "Oil", 860.0, 5e-4, source="certificate")


def forwarded(store):
    forwarder = Forwarder(store, login_at(load_settings().shop_url), lambda: datetime.now(UTC))
    forwarder.look_again_s = 0.02
    forwarder.start()
    eventually(lambda: forwarder.standing.sent == store.head()[0] and taken(store))
    forwarder.close()


def taken(store):
    return bool(store.entries(kind="shop.taken"))


@pytest.fixture
def joined(owner, at, ring, capsys, monkeypatch):
    """A bench that joined and sent all, and the path of an older copy of its file."""
    main(["shop", "init", owner.text, "--name", "Aller"])
    at("bay-1")
    join(owner.text)
    as_bench(monkeypatch)
    file = load_settings().data_path / app.STORE_FILE
    old = file.with_name("old.sqlite")
    shutil.copyfile(file, old)
    with opened() as store:
        store.append([lot(1), lot(2)], person="lea", utc=WHEN)
        forwarded(store)
        store.append([lot(3)], person="lea", utc=WHEN)
        forwarded(store)
    capsys.readouterr()
    return file, old


def test_what_an_older_copy_lacks_comes_back_from_the_shop(joined, capsys):
    file, old = joined
    with opened() as store:
        before = store.head()
    shutil.copyfile(old, file)
    with pytest.raises(BehindError) as behind:
        opened()
    assert "restore --shop" in str(behind.value)
    assert main(["restore", "--shop"]) == 0
    said = capsys.readouterr().out
    assert "entries came back from postgresql://bench_bay_1" in said
    with opened() as store:
        assert store.head() == before
        assert store.lots().keys() >= {"L-1", "L-2", "L-3"}
        assert store.verify(known=store.trust.known).problem == ""
    assert main(["restore", "--shop"]) == 0
    assert "nothing more of this bench" in capsys.readouterr().out


def test_a_computer_that_never_signed_a_file_asks_the_shop_before_it_adds_to_it(joined, tmp_path):
    file, old = joined
    app._opened(file, load_settings()).close()
    (home_folder() / "heads").rename(tmp_path / "heads-away")
    # The file is whole: nothing is said.
    app._require_level(file, "bay-1", load_settings().shop_url)
    shutil.copyfile(old, file)
    with pytest.raises(BehindError, match="restore --shop"):
        app._require_level(file, "bay-1", load_settings().shop_url)
    file.unlink()
    with pytest.raises(BehindError, match="end at entry 0"):
        app._require_level(file, "bay-1", load_settings().shop_url)


def test_a_shop_that_does_not_answer_keeps_no_bench_from_starting(joined, tmp_path, caplog):
    file, _ = joined
    (home_folder() / "heads").rename(tmp_path / "heads-away")
    app._require_level(file, "bay-1", "postgresql://nobody@127.0.0.1:1/shop")
    assert "was not queried" in caplog.text


def test_either_a_copy_or_the_shop_is_named(joined, capsys):
    for words in (["restore"], ["restore", "x", "--shop"]):
        assert main(words) == 2
    assert "not both" in capsys.readouterr().err
    assert shop_address(load_settings().shop_url).password == ""
