import json

import pytest

from benchstation.store.engine import open_store
from benchstation.store.entry_proof import proof_from
from benchstation.store.trust import trust_at


@pytest.fixture
def bench(tmp_path, add, lot, opening, filing):
    with open_store(tmp_path / "b" / "r.sqlite", "b-1", trust=trust_at(tmp_path / "home")) as store:
        for n in range(5):
            add(lot(f"L-{n}"), opening(f"u{n}"), to=store)
            add(filing(f"u{n}", mass_kg=0.2221), to=store)
        add(lot("L-9"), to=store)
        yield store


def carried(proof):
    """Return a proof as it comes out of a file."""
    return json.loads(json.dumps(proof.as_json()))


def test_every_entry_up_to_the_head_is_proven_without_the_journal(bench):
    entries = bench.entries()
    for entry in entries[:-1]:
        proof = proof_from(carried(bench.proof(entry)))
        assert proof.holds
        assert proof.entry_hash == entry.hash
        assert proof.head.size == len(entries) - 1
    assert bench.proof(entries[-1]) is None


@pytest.mark.parametrize(
    "change",
    [
        lambda data: data["entry"]["body"].update(decision="pass!"),
        lambda data: data["entry"].update(person="eve"),
        lambda data: data["entry"].update(seq=data["entry"]["seq"] - 1),
        lambda data: data["path"].pop(),
        lambda data: data["path"].reverse(),
        lambda data: data["head"].update(size=data["head"]["size"] + 1),
        lambda data: data["head"].update(bench="b-2"),
    ],
)
def test_a_proof_that_was_altered_does_not_hold(bench, change):
    data = carried(bench.proof(bench.entries()[3]))
    change(data)
    assert not proof_from(data).holds


@pytest.mark.parametrize("data", [{}, {"entry": {}, "path": [], "head": {}}, {"entry": 3}])
def test_data_that_are_no_proof_are_refused(data):
    with pytest.raises(ValueError, match=r"no proof|no signed head"):
        proof_from(data)
