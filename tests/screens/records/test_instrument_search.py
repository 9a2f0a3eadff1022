"""QA recalls by instrument: every unit that rests on it, or those since its last good check."""

import pytest

from benchstation.domain.events import InstrumentChecked
from benchstation.domain.specification import StepKind
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.instrument_bar import strip
from benchstation.screens.instruments.page import instrument_views
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.records import SINCE, UNITS_OF, UNITS_SINCE
from benchstation.screens.records.page import Records
from tests.stepped_bench import make_bench


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """Two units before a good check, one after it, and a check that fails."""
    bench = make_bench(tmp_path_factory.mktemp("recall"))

    def check(passed: bool) -> None:
        bench.session.journal(
            [InstrumentChecked("scale-1", "check weight", 0.2, 0.2, 1e-3, passed)]
        )

    bench.work_to(None, serial="T-1")
    bench.session.act("next", {})
    bench.work_to(None, serial="T-2")
    bench.session.act("next", {})
    check(True)
    bench.work_to(StepKind.CHARGE, serial="T-3")
    check(False)
    yield bench
    bench.store.close()


def found(bench, text):
    return sorted(row.serial for row in Records(bench.store).find(text))


@pytest.mark.parametrize(
    "text", ["scale-1", "SCALE-1", "S-20418", "s-204", "Bench scale, 6 kg", "bench sc", "gauge-1"]
)
def test_by_id_serial_number_and_title_and_their_beginnings(shop, text):
    assert found(shop, text) == ["T-1", "T-2", "T-3"]


@pytest.mark.parametrize("text", ["20418", "kg", "6 kg", "scale-10"])
def test_what_stands_within_its_names_finds_none(shop, text):
    assert found(shop, text) == []
    assert Records(shop.store).about(text) == ""


def test_since_the_last_good_check_only_what_was_weighed_after_it(shop):
    assert found(shop, f"scale-1{SINCE}") == ["T-3"]
    assert found(shop, f" Bench scale{SINCE.upper()} ") == ["T-3"]
    assert found(shop, f"gauge-1{SINCE}") == ["T-1", "T-2", "T-3"]
    assert found(shop, f"no-such{SINCE}") == []


def test_a_unit_that_is_not_filed_yet_is_found_too(shop):
    (row,) = Records(shop.store).find(f"scale-1{SINCE}")
    assert (row.state, row.filed, row.tone) == ("open", "", Tone.QUIET)


def test_it_says_how_many_and_since_when(shop):
    about = Records(shop.store).about
    assert about("scale-1") == (
        "3 units rest on Bench scale, 6 kg (scale-1, serial number S-20418)."
    )
    said = about(f"S-20418{SINCE}")
    assert said.startswith("One unit rests on Bench scale, 6 kg (scale-1, serial number S-20418) ")
    assert " since its last good check, 2026-03-0" in said
    assert "; it failed 2026-03-0" in said
    assert "with no good check on record" in about(f"gauge-1{SINCE}")
    assert about("T-1") == about("") == about("S-") == about(SINCE) == ""


def test_both_instruments_offer_it_under_their_own_keys(shop):
    words = QuantityFormatter(UnitSystem.METRIC)
    views = instrument_views(shop.session, strip(shop.session, words))
    assert [view.id for view in views] == ["scale-1", "gauge-1"]
    offered = [action for view in views for action in (*view.actions, *view.recall)]
    keys = [action.key for action in offered if action.key]
    assert len(set(keys)) == len(keys)
    for view in views:
        assert [action.id for action in view.recall] == [UNITS_OF, UNITS_SINCE]
        assert all(action.enabled for action in view.recall), "whoever is signed in"
