"""A founded bench is changed by what a lead confirms and signs; a file replaces no PIN or role."""

import re
import sys
from datetime import UTC, datetime
from importlib.resources import files

import pytest

from benchstation.bench.bench_settings import found_changed
from benchstation.bench.staff import people_from
from benchstation.cli.main import main
from benchstation.config import set_up
from benchstation.config.settings import load_settings
from benchstation.domain.events import (
    BenchSettingChanged,
    BenchSetUpChanged,
    PersonEnrolled,
    PersonLeft,
    PinRefused,
    SpecificationApproved,
    SpecificationDrafted,
)
from benchstation.domain.people import Role, check_pin
from benchstation.store.engine import open_store
from tests.set_up_hands import lead_at_terminal

QA = '\n[[people]]\nid = "quinn"\nname = "Quinn"\nroles = ["qa"]\npin = "975318"\n'
TENFOLD = ('"fill hose" = "35 bar"', '"fill hose" = "350 bar"')


@pytest.fixture
def file(tmp_path, monkeypatch):
    """The example with a QA, founded."""
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path / "home"))
    path = tmp_path / "bench.toml"
    path.write_text(set_up.example().replace("\n[[people]]", QA + "\n[[people]]", 1), "utf-8")
    assert main(["set-up", str(path)]) == 0
    return path


def change(file, *pairs: tuple[str, str]) -> None:
    text = file.read_text("utf-8")
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    file.write_text(text, "utf-8")


def store_of(file):
    return open_store(file.parent / "home" / "data" / "rebuilds.sqlite", "bench-1", read_only=True)


def facts(file, kind):
    with store_of(file) as store:
        return store.entries(kind=kind.kind)


def everything(file):
    with store_of(file) as store:
        return store.head(), load_settings()


def test_no_file_replaces_a_pin_or_adds_a_role(file, capsys, monkeypatch):
    lead_at_terminal(monkeypatch)
    change(file, ('pin = "975318"', 'pin = "111222"'), ('roles = ["qa"]', 'roles = ["qa", "lead"]'))
    before = everything(file)
    assert main(["set-up", str(file)]) == 0
    assert "Quinn: roles and PIN stay as they are" in capsys.readouterr().out
    assert everything(file) == before
    with store_of(file) as store:
        quinn = people_from(store)["quinn"]
    assert check_pin(quinn, "975318")
    assert quinn.roles == {Role.QA}


def test_nobody_raises_ratings_without_a_terminal(file, capsys, monkeypatch):
    change(file, TENFOLD)
    before = everything(file)
    monkeypatch.setattr(sys.stdin, "isatty", lambda: False, raising=False)
    assert main(["set-up", str(file), "--person", "second", "--reason", "x"]) == 2
    assert "this bench is founded, and 1 things would change" in capsys.readouterr().err
    assert everything(file) == before


def test_each_difference_is_named_confirmed_signed_and_on_record(file, capsys, monkeypatch):
    asked = lead_at_terminal(monkeypatch)
    change(file, TENFOLD, ('url = "/dev/ttyUSB0"', 'url = "/dev/ttyUSB7"'))
    assert main(["set-up", str(file)]) == 0
    named = [question for question in asked if question.endswith("[y/N] ")]
    assert any(
        re.match(r"Ratings: .*fill hose 350 bar.*until now .*fill hose 35 bar", q) for q in named
    )
    assert any("scale-1" in q and "/dev/ttyUSB7" in q and "/dev/ttyUSB0" in q for q in named)
    (signed,) = facts(file, BenchSetUpChanged)
    assert (signed.person, signed.event.reason) == ("second", "new parts")
    rating = next(e for e in facts(file, BenchSettingChanged) if e.event.setting == "path_ratings")
    assert (rating.person, rating.event.reason) == ("second", "new parts")
    assert rating.event.after["fill hose"] == pytest.approx(350e5)
    assert load_settings().path_ratings["fill hose"] == pytest.approx(350e5)
    with store_of(file) as store:
        left = [fact.setting for fact in found_changed(load_settings(), store)]
    assert "path_ratings" not in left, "the next start has nothing to tell of it"


@pytest.mark.parametrize(
    ("hands", "said"),
    [
        ({"answer": "n"}, "was not confirmed"),
        ({"answer": ""}, "was not confirmed"),
        ({"pin": "135792"}, "not the PIN"),
        ({"person": "first"}, "is no lead"),
        ({"person": "quinn", "pin": "975318"}, "is no lead"),
        ({"person": "nobody"}, "is no lead"),
    ],
)
def test_what_is_not_signed_changes_nothing(file, capsys, monkeypatch, hands, said):
    change(file, TENFOLD)
    lead_at_terminal(monkeypatch, **hands)
    settings = load_settings()
    assert main(["set-up", str(file)]) == 2
    assert said in capsys.readouterr().err
    assert load_settings() == settings
    assert not facts(file, BenchSetUpChanged)


def test_wrong_pins_count_here_too(file, capsys, monkeypatch):
    change(file, TENFOLD)
    lead_at_terminal(monkeypatch, pin="135792")
    for _ in range(6):
        assert main(["set-up", str(file)]) == 2
    assert "too many wrong PINs" in capsys.readouterr().err
    assert [e.event.tries for e in facts(file, PinRefused)] == [1, 2, 3, 4, 5]
    lead_at_terminal(monkeypatch)
    assert main(["set-up", str(file)]) == 2


def test_a_second_qa_is_not_enrolled_by_a_file(file, capsys, monkeypatch):
    lead_at_terminal(monkeypatch)
    more = QA.replace("quinn", "rae").replace("Quinn", "Rae")
    file.write_text(file.read_text("utf-8") + more, "utf-8")
    assert main(["set-up", str(file)]) == 2
    assert "a QA role is given by QA" in capsys.readouterr().err
    change(file, ('name = "Rae"\nroles = ["qa"]', 'name = "Rae"\nroles = ["technician"]'))
    assert main(["set-up", str(file)]) == 0
    assert facts(file, PersonEnrolled)[-1].event.person_id == "rae"
    assert facts(file, PersonEnrolled)[-1].person == "second"


def test_who_has_left_is_not_brought_back(file, capsys, monkeypatch):
    with open_store(file.parent / "home" / "data" / "rebuilds.sqlite", "bench-1") as store:
        store.append([PersonLeft("first", "moved")], person="second", utc=datetime.now(UTC))
    lead_at_terminal(monkeypatch)
    assert main(["set-up", str(file)]) == 0
    assert "has left and stays so" in capsys.readouterr().out
    with store_of(file) as store:
        assert people_from(store)["first"].left


def test_a_specification_comes_as_a_draft_that_another_approves(file, monkeypatch):
    lead_at_terminal(monkeypatch)
    family = "mr-46-front.toml"
    text = (files("resources") / "demo" / "specifications" / family).read_text("utf-8")
    (file.parent / family).write_text(text, "utf-8")
    change(file, ("families = []", f'families = ["{family}"]'))
    assert main(["set-up", str(file)]) == 0
    (draft,) = facts(file, SpecificationDrafted)
    assert (draft.person, draft.event.specification_id) == ("second", "mr-46-front")
    assert not facts(file, SpecificationApproved)


def test_lost_settings_are_no_way_around_it(file, capsys):
    """The records say that the bench is founded, not the settings."""
    (file.parent / "home" / "settings.json").unlink()
    change(file, ('pin = "975318"', 'pin = "111222"'), TENFOLD)
    assert main(["set-up", str(file)]) == 2
    assert "this bench is founded" in capsys.readouterr().err


def test_records_elsewhere_are_no_way_around_it_either(file, capsys):
    other = file.parent / "elsewhere"
    change(file, ("[bench]\n", f"[bench]\ndata_dir = '{other}'\n"))
    assert main(["set-up", str(file)]) == 2
    assert "this bench is founded" in capsys.readouterr().err
    assert not other.exists()
