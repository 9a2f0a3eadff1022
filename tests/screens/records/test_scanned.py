"""What a scanner types from a label or a certificate opens its record, and checks it."""

import sqlite3
from contextlib import closing

import pytest

from benchstation.demo import shop as demo
from benchstation.domain.events import UnitDisposed
from benchstation.reports.export import filed_record
from benchstation.reports.record_code import (
    CertificateCode,
    LabelCode,
    certificate_text,
    code_in,
    label_text,
)
from benchstation.screens.records.page import Records
from benchstation.store.engine import open_store
from benchstation.store.trust import trust_at
from tests.stepped_bench import START, make_bench


@pytest.fixture(scope="module")
def journal(tmp_path_factory):
    folder = tmp_path_factory.mktemp("scanned")
    bench = make_bench(folder)
    bench.work_to(None, serial="S 7/a")
    bench.store.close()
    return folder / "rebuilds.sqlite"


@pytest.fixture
def store(journal, tmp_path):
    path = tmp_path / "rebuilds.sqlite"
    path.write_bytes(journal.read_bytes())
    with open_store(path, "", trust=trust_at(tmp_path / "home")) as opened:
        yield opened


def newest(store):
    return filed_record(store, store.entries(kind="unit.filed")[-1].event.unit_id)


def test_a_certificates_code_says_entry_hash_and_key(store):
    filed = newest(store)
    code = code_in(certificate_text(filed))
    told_to = filed.disposition.told_to_entry
    assert code == CertificateCode(filed.entry.seq, filed.entry.hash, told_to, filed.key.public)
    assert set(certificate_text(filed)) <= set("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ ")


@pytest.mark.parametrize("text", [certificate_text, label_text])
@pytest.mark.parametrize("typed", [str, lambda text: f"  {text}\r\n"])
def test_a_code_finds_its_record_alone_and_says_that_it_is_sound(store, text, typed):
    filed, records = newest(store), Records(store)
    said = typed(text(filed))
    (row,) = records.find(said)
    assert row.unit_id == filed.record.unit_id
    assert f"S 7/a, entry {filed.entry.seq}, is as it was filed." in records.about(said)


def test_a_paper_that_qa_overtook_says_so(store):
    filed, records = newest(store), Records(store)
    code = certificate_text(filed)
    assert "The paper's standing holds: not released yet." in records.about(code)
    held = UnitDisposed(filed.record.unit_id, "held", "once more")
    store.append([held], person=demo.QA, utc=START)
    assert records.about(code).endswith(
        "THE PAPER IS OLDER: it says not released yet; now on hold."
    )
    assert "holds: on hold." in records.about(certificate_text(newest(store)))


def test_a_record_that_was_altered_is_said_to_be(store):
    code = certificate_text(newest(store))
    with closing(sqlite3.connect(store.path)) as connection:
        connection.execute("DROP TRIGGER journal_no_update")
        connection.execute("UPDATE journal SET person = 'nobody' WHERE kind = 'step.signed'")
        connection.commit()
    assert "NOT SOUND" in Records(store).about(code)


@pytest.mark.parametrize(
    "text", ["", "S 7/a", "BSR1", "BSR1 5 abc 6", "MR-46 12345", "BSR2 1 " + "0" * 64 + " 1"]
)
def test_other_words_are_no_code(text):
    assert code_in(text) is None


def test_a_code_that_no_record_has_says_so_and_finds_nothing(store):
    filed, records = newest(store), Records(store)
    other = certificate_text(filed).replace(filed.entry.hash[:8].upper(), "0" * 8)
    assert records.find(other) == []
    assert "no record here has it" in records.about(other)
    assert code_in("S 7/a 0123456789abcdef") == LabelCode("S 7/a", "0123456789abcdef")
    assert records.find("S 7/a 0123456789abcdef") == []
