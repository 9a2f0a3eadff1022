"""Two hundred ways to change a record: each is found, and nobody types an anchor."""

import json
import shutil
import sqlite3
from contextlib import closing

import pytest

from benchstation.cli.verify_record import verify_record
from benchstation.demo import shop as demo
from benchstation.domain.events import UnitDisposed
from benchstation.driver_api.errors import StationError
from benchstation.reports.certificate import certificate
from benchstation.reports.export import as_text, filed_record, signed_json
from benchstation.reports.papers import written
from benchstation.store.engine import open_store
from benchstation.store.known_heads import KnownHeads
from benchstation.store.trust import trust_at
from benchstation.store.verification import Verification
from benchstation.store.verifying import Verifier
from tests.reports import forging
from tests.stepped_bench import START, make_bench

SOUND = Verification(True, 1, "", "")
EVERY = {True: 80, False: 30}
"""Of the single values so few are edited here, with a journal and alone; all in the long form."""


class Exported:
    """A record of a signed journal, as JSON and as PDF, and where all of it lies."""

    def __init__(self, folder):
        self.home, self.forger = folder / "home", folder / "forger"
        self.journal = folder / "rebuilds.sqlite"
        bench = make_bench(folder)
        bench.work_to(None, serial="F-1", family="carrier-50")
        bench.store.close()
        with open_store(self.journal, "", trust=trust_at(self.home)) as store:
            unit = store.entries(kind="unit.filed")[0].event.unit_id
            store.append([UnitDisposed(unit, "held", "the seat again")], person=demo.QA, utc=START)
            filed = filed_record(store, unit)
            self.data = signed_json(filed)
            self.pdf = certificate(filed)
            self.paper = json.loads(self.json_in_pdf())
            pdf = folder / "noted.pdf"
            pdf.write_bytes(self.pdf)
            store.append([written(unit, pdf)], person=demo.QA, utc=START)

    def json_in_pdf(self):
        from benchstation.reports.archive import attached_in

        return attached_in(self.pdf, "a.pdf")[0]


@pytest.fixture(scope="module")
def exported(tmp_path_factory):
    return Exported(tmp_path_factory.mktemp("exported"))


@pytest.fixture
def judge(exported, tmp_path, monkeypatch):
    """Return what is said of a file's content: with the journal, or with this computer's key."""
    monkeypatch.setenv("BENCHSTATION_HOME", str(exported.home))

    def judged(content, ending, *, journal):
        path = tmp_path / f"record{ending}"
        path.write_bytes(content)
        file = exported.journal if journal else None
        try:
            return verify_record(path, file, None, lambda _: SOUND)
        except StationError as error:
            return error

    return judged


def refused(verdict):
    return isinstance(verdict, StationError) or not verdict.sound


WAYS = pytest.mark.parametrize("journal", [True, False], ids=["journal", "alone"])


@WAYS
def test_what_was_not_changed_is_sound(exported, judge, journal):
    told = judge(as_text(exported.data).encode(), ".json", journal=journal)
    assert told.sound, told.words
    told = judge(exported.pdf, ".pdf", journal=journal)
    assert told.sound, told.words
    assert "its pages" in told.words
    assert ("byte for byte: with the journal's note of the certificate" in told.words) is journal


def values_edited(exported, judge, journal, every):
    paths = [p for p in forging.leaves(exported.data) if p[0] != "signature"][::every]
    kept = as_text(exported.data)
    missed = []
    for path in paths:
        made = forging.changed(exported.data, path)
        assert as_text(made) != kept
        # As it is; with the hash made again; and signed with another key on top of that.
        forged = forging.rehashed(made) if path[0] == "record" else made
        told = judge(forging.as_bytes(forged), ".json", journal=journal)
        signed = judge(
            forging.as_bytes(forging.resigned(forged, exported.forger)), ".json", journal=journal
        )
        if not refused(told) or not refused(signed):
            missed.append(path)
    assert missed == []
    return len(paths)


@WAYS
def test_a_value_that_was_edited_is_found(exported, judge, journal):
    assert values_edited(exported, judge, journal, EVERY[journal]) >= 4


@pytest.mark.soak
@WAYS
def test_every_value_that_was_edited_is_found(exported, judge, journal):
    assert values_edited(exported, judge, journal, 1) >= 200


@WAYS
def test_a_part_that_was_edited_is_found(exported, judge, journal):
    missed = []
    for name, forged in forging.parts(exported.data).items():
        unsigned = {key: value for key, value in forged.items() if key != "signature"}
        # Held against the journal, what nobody signed is what a forger can best pass off.
        own = forging.resigned(forged, exported.forger)
        for made in (unsigned,) if journal else (forged, unsigned, own):
            if not refused(judge(forging.as_bytes(made), ".json", journal=journal)):
                missed.append(name)
    assert missed == []


@WAYS
def test_a_key_that_stands_twice_is_found(exported, judge, journal):
    text = as_text(exported.data).replace('"form": 4', '"form": 4, "form": 4')
    assert refused(judge(text.encode(), ".json", journal=journal))


@pytest.mark.parametrize("without", ["signature", "proof"])
def test_without_what_proves_it_nothing_is_proven_alone(exported, judge, without):
    data = {key: value for key, value in exported.data.items() if key != without}
    assert refused(judge(forging.as_bytes(data), ".json", journal=False))


@WAYS
def test_a_pdf_that_was_edited_is_found(exported, judge, journal):
    other = forging.changed(exported.paper, ("record", "oil", "net_shown_kg"))
    other = forging.resigned(forging.rehashed(other), exported.forger)
    edits = forging.pdf_edits(exported.pdf, forging.as_bytes(other))
    missed = [n for n, made in edits.items() if not refused(judge(made, ".pdf", journal=journal))]
    assert missed == []


@WAYS
def test_pages_with_an_attachment_made_for_them_are_found(exported, judge, journal):
    """Pages are changed, and the attached record is made to name their new hash."""
    from benchstation.reports.archive import attached_in

    made = forging.pdf_edits(exported.pdf, b"{}")["the verdict"]
    _, pages = attached_in(made, "a.pdf")
    data = {**exported.paper, "paper": {"what": "certificate", "pages_sha256": pages}}
    unsigned = {key: value for key, value in data.items() if key != "signature"}
    for forged in (data, unsigned, forging.resigned(data, exported.forger)):
        pdf = forging.reattached(made, forging.as_bytes(forged))
        assert refused(judge(pdf, ".pdf", journal=journal))


# --- the journal ----------------------------------------------------------------------------------

SET = "UPDATE journal SET {} WHERE kind = '{}'"
BODY = "body = CAST(replace(CAST(body AS TEXT), '{}', '{}') AS BLOB)"
JOURNAL = {
    "QA's word": SET.format(BODY.format('"held"', '"released"'), "unit.disposed"),
    "QA's reason": SET.format(BODY.format("the seat again", "none"), "unit.disposed"),
    "who said it for QA": SET.format("person = 'nobody'", "unit.disposed"),
    "when QA said it": SET.format("utc = '2020' || substr(utc, 5)", "unit.disposed"),
    "QA's word is gone": "DELETE FROM journal WHERE kind = 'unit.disposed'",
    "the record": SET.format(BODY.format('"F-1"', '"F-2"'), "unit.filed"),
    "the mass": SET.format(BODY.format('"shown_kg":0.', '"shown_kg":1.'), "weigh.captured"),
    "the charge": SET.format(
        BODY.format('"decision":"pass"', '"decision":"fail"'), "charge.captured"
    ),
    "who signed a step": SET.format("person = 'nobody'", "step.signed"),
    "the hash of the filing": SET.format("hash = '" + "0" * 64 + "'", "unit.filed"),
    "the entry before": SET.format("prev = '" + "0" * 64 + "'", "unit.filed"),
    "a trace": "UPDATE trace SET data = substr(data, 1, length(data) - 1) || x'00'",
    "a trace is gone": "DELETE FROM trace",
    "a photograph": "UPDATE photo SET data = substr(data, 1, length(data) - 1) || x'00'",
    "a photograph is gone": "DELETE FROM photo",
    "a signed head": "UPDATE tree_head SET signature = '00' || substr(signature, 3)",
    "the end is cut": "DELETE FROM journal WHERE seq > (SELECT max(seq) - 3 FROM journal)",
}


@pytest.mark.parametrize("name", JOURNAL)
def test_a_journal_that_was_edited_is_found(exported, tmp_path, monkeypatch, name):
    monkeypatch.setenv("BENCHSTATION_HOME", str(exported.home))
    journal, record = tmp_path / "j.sqlite", tmp_path / "r.json"
    shutil.copy(exported.journal, journal)
    with closing(sqlite3.connect(journal)) as connection:
        triggers = connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        for (trigger,) in triggers.fetchall():
            connection.execute(f"DROP TRIGGER {trigger}")
        assert connection.execute(JOURNAL[name]).rowcount > 0
        connection.commit()
    record.write_text(as_text(exported.data), encoding="utf-8")

    def verify(file):
        with open_store(file, "", read_only=True) as store:
            return Verifier(store, KnownHeads(exported.home)).whole()

    try:
        told = verify_record(record, journal, None, verify)
    except StationError:
        return
    assert not told.sound, told.words
