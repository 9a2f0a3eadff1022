"""A bench whose computer is lost: the newest copy and the shop bring its records back elsewhere."""

import shutil
from dataclasses import replace
from datetime import datetime

from benchstation.demo import shop as demo
from benchstation.store.backends.postgresql import ShopAddress
from benchstation.store.backup import restore
from benchstation.store.engine import open_store
from benchstation.store.known_heads import KnownHeads
from benchstation.store.shop.giving_back import give_back
from benchstation.store.shop.joining import join_bench
from benchstation.store.trust import SYSTEM, Acceptance, Accepted
from tests.month.bench_days import Home, trust_then
from tests.month.scenario import STOLEN_HOUR


def replaced(home: Home, owner: ShopAddress, when: datetime) -> Home:
    """Lose the computer, and go on with another one that holds all that was on record."""
    assert when.hour != STOLEN_HOUR
    with open_store(home.file, home.bench, read_only=True) as store:
        before = store.head()
    shutil.rmtree(home.folder)
    folder = home.folder.with_name(f"{home.bench}-again")
    new = replace(home, folder=folder, file=folder / "data" / home.file.name)
    folder.mkdir()
    older = sorted(home.copies.glob("*.sqlite"))[-2:][0]
    # Not the last evening's copy: what came since is at the shop alone.
    restore(older, new.file, KnownHeads(folder), when)
    with open_store(new.file, home.bench, accepted=Acceptance(SYSTEM, "")) as store:
        behind = store.head()
        give_back(store, home.login.address)
        assert store.head() == before
        assert behind[0] <= before[0]
    said = Acceptance(demo.LEAD, "the computer was lost; another one stands there", Accepted.KEY)
    with open_store(new.file, home.bench, trust=trust_then(folder, when), accepted=said) as store:
        login = join_bench(owner, store, demo.LEAD, when)
        assert store.verify().ok
    return replace(new, login=login)
