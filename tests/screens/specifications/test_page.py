"""Drafting, checking and approving a specification, and what its page is told."""

import tomllib
from datetime import UTC, datetime
from importlib.resources import files

import numpy as np
import pytest

from benchstation.demo import shop as demo
from benchstation.domain.events import SpecificationDrafted
from benchstation.domain.specification import (
    SpecificationError,
    specification_from,
    specification_from_toml,
)
from benchstation.domain.specification_edit import with_value
from benchstation.domain.specification_text import as_toml
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.specifications.page import Specifications
from benchstation.ui.widgets.forms.specification_text import example

METRIC = QuantityFormatter(UnitSystem.METRIC)
FAMILY = "mr-46-front"


def text(revision: int = 2) -> str:
    """The family's text as another revision."""
    path = files("resources") / "demo" / "specifications" / f"{FAMILY}.toml"
    return path.read_text("utf-8").replace("revision = 1", f"revision = {revision}")


@pytest.fixture
def page(bench):
    return Specifications(bench.store)


def test_a_lead_drafts_and_a_second_person_approves(bench, page):
    bench.sign_in("oberhauser")
    bench.session.act("draft", {"source": text()})
    key = f"draft:{FAMILY}/2"
    assert {row.key: row.author for row in page.rows()}[key] == "oberhauser"
    with pytest.raises(NotAllowedError, match="wrote a draft does not approve"):
        bench.session.act("approve", {**demo.SIGNED, "key": key})
    bench.sign_in("anders")
    bench.session.act("approve", {**demo.SIGNED, "key": key})
    rows = {row.key: row.state for row in page.rows()}
    assert rows[f"approved:{FAMILY}/2"] == "in force"
    assert rows[f"approved:{FAMILY}/1"] == "older"
    assert key not in rows
    assert (FAMILY, 2) in bench.session.shop.specifications
    with pytest.raises(NotAllowedError, match="no open draft"):
        bench.session.act("approve", {**demo.SIGNED, "key": key})


def test_the_next_unit_gets_the_revision_in_force(bench):
    bench.sign_in("oberhauser")
    bench.session.act("draft", {"source": text()})
    bench.sign_in("anders")
    bench.session.act("approve", {**demo.SIGNED, "key": f"draft:{FAMILY}/2"})
    bench.sign_in()
    bench.session.act("open", {"serial": "T-9", "specification": FAMILY, "lot": "L-0417"})
    assert bench.session.rebuild.specification.revision == 2


def test_who_may_not(bench):
    bench.sign_in()
    with pytest.raises(NotAllowedError, match="is no bench lead"):
        bench.session.act("draft", {"source": text()})
    bench.sign_in("oberhauser")
    bench.session.act("draft", {"source": text()})
    bench.sign_in()
    with pytest.raises(NotAllowedError, match="Have a bench lead or QA sign in"):
        bench.session.act("approve", {**demo.SIGNED, "key": f"draft:{FAMILY}/2"})


def test_the_example_is_not_kept_under_its_own_name(bench, page):
    bench.sign_in("oberhauser")
    for text_of, what in (
        (example(), "the id is still the example's"),
        (
            example().replace('id = "example"', 'id = "ours-46"'),
            "the family is still the example's",
        ),
    ):
        checked = page.check(text_of, 0.0, "reference", METRIC)
        assert what in checked.problems[0].casefold()
        assert checked.drawing is not None, "it is drawn all the same"
        with pytest.raises(NotAllowedError, match=what):
            bench.session.act("draft", {"source": text_of})
    ours = (
        example().replace('"example"', '"ours-46"').replace('family = "Example:', 'family = "Our')
    )
    checked = page.check(ours, 0.0, "reference", METRIC)
    assert checked.problems == ()
    assert "39 figures are still the example's: title, geometry.bore" in checked.not_yet
    bench.session.act("draft", {"source": ours})
    with pytest.raises(NotAllowedError, match="wrote a draft does not approve"):
        bench.session.act("approve", {**demo.SIGNED, "key": "draft:ours-46/1"})
    bench.sign_in("anders")
    with pytest.raises(NotAllowedError, match="39 figures are still the example's"):
        bench.session.act("approve", {**demo.SIGNED, "key": "draft:ours-46/1"})


def test_what_is_changed_or_confirmed_is_no_more_the_examples(bench, page):
    ours = (
        example().replace('"example"', '"ours-46"').replace('family = "Example:', 'family = "Our')
    )
    ours = with_value(ours, "geometry.hardware_volume", "47.2 mL")
    for name in tomllib.loads(ours)["example"]:
        if name != "geometry.hardware_volume":
            ours = with_value(ours, ("example", name), None)
    assert page.check(ours, 0.0, "reference", METRIC).not_yet == ""
    bench.sign_in("oberhauser")
    bench.session.act("draft", {"source": ours})
    bench.sign_in("anders")
    bench.session.act("approve", {**demo.SIGNED, "key": "draft:ours-46/1"})
    (kept,) = (s for s in bench.session.shop.current_specifications() if s.id == "ours-46")
    assert "example" not in kept.content()


@pytest.mark.parametrize("revision", [1, 3])
def test_only_the_next_revision_is_taken(bench, revision):
    bench.sign_in("oberhauser")
    with pytest.raises(NotAllowedError, match="not the next one"):
        bench.session.act("draft", {"source": text(revision)})


def test_a_draft_outside_its_window_is_refused(bench):
    bench.sign_in("oberhauser")
    before = bench.store.head()
    with pytest.raises(SpecificationError, match="outside the physical fill window"):
        bench.session.act("draft", {"source": text().replace('"262 mL"', '"295 mL"')})
    assert bench.store.head() == before


@pytest.mark.parametrize("key", ["", "draft:", "draft:x/y", "draft:mr-46-front/7", "nonsense"])
def test_an_unknown_draft_is_refused_in_words(bench, key):
    bench.sign_in("anders")
    with pytest.raises(StationError):
        bench.session.act("approve", {**demo.SIGNED, "key": key})


def test_what_is_wrong_comes_back_as_words_while_writing(page):
    for source, said in (
        ("", "geometry: is missing"),
        ("[geometry", "not TOML"),
        (text().replace('"46 mm"', '"46 bar"'), "bore"),
        (text().replace('"262 mL"', '"295 mL"'), "fill window"),
        (text(7), "not the next one"),
    ):
        found = page.check(source, 0.0, "reference", METRIC)
        assert any(said in problem for problem in found.problems), found.problems
        assert found.source == source


def test_what_changed_against_the_revision_in_force(page):
    found = page.check(text().replace('"262 mL"', '"263 mL"'), 0.0, "reference", METRIC)
    fields = {name: (was, now) for name, was, now in found.changes}
    assert fields["Oil: Fill"] == ("262.0 mL", "263.0 mL")
    assert fields["Name: Revision"] == ("1", "2")
    assert len(fields) == 2
    inch = QuantityFormatter(UnitSystem.INCH_POUND)
    found = page.check(text().replace('"262 mL"', '"263 mL"'), 0.0, "reference", inch)
    assert ("Oil: Fill", "8.86 fl oz", "8.89 fl oz") in found.changes


def test_the_drawing_is_to_scale_and_moves(page):
    out = page.open(f"approved:{FAMILY}/1", 0.0, "reference", METRIC).drawing
    inward = page.open(f"approved:{FAMILY}/1", 1.0, "reference", METRIC).drawing
    assert out.bore == 0.046
    assert 0 < out.floating_from < out.floating_to < out.piston_from < out.piston_to < out.length
    assert out.rod_out == pytest.approx(0.150)
    assert inward.rod_out == 0
    assert inward.floating_from < out.floating_from, "the rod pushes the floating piston back"
    assert inward.piston_from == pytest.approx(out.piston_from - 0.150)
    hot = page.open(f"approved:{FAMILY}/1", 0.0, "hot", METRIC).drawing
    assert hot.floating_from < out.floating_from, "hot oil takes room from the gas"


def test_the_curves_rise_and_the_hot_one_is_highest(page):
    pressure, force = page.open(f"approved:{FAMILY}/1", 0.0, "reference", METRIC).curves
    cold, reference, hot = (line[2] for line in pressure.lines)
    for line in (cold, reference, hot):
        assert (np.diff(line) > 0).all()
    assert (hot > reference).all()
    assert (reference > cold).all()
    # F = (p - p_ambient) A_rod: 15 bar on a 14 mm rod is 231 N.
    assert force.lines[1][2][0] == pytest.approx(230.9, abs=0.2)
    assert pressure.marks[0][1] == 80.0


def test_limits_and_margins_are_a_table(page):
    groups = page.open(f"approved:{FAMILY}/1", 0.0, "reference", METRIC).groups
    found = {t.label: t for g in groups for t in g.terms}
    assert found["Least oil"].value == "247.8 mL"
    assert "limited by" in found["Most oil"].source
    least, most = (float(found[name].value.split()[0]) for name in ("Least charge", "Most charge"))
    assert least < 15 < most
    assert sum("to spare" in t.value for t in found.values()) == 3


def test_a_stored_specification_comes_out_as_toml_that_goes_in_again(page, bench):
    for specification in bench.session.shop.current_specifications():
        again = specification_from_toml(as_toml(specification))
        assert again == specification
        assert again.sha256() == specification.sha256()


def test_the_text_that_was_written_comes_back_with_its_comments(bench, page):
    bench.sign_in("oberhauser")
    source = "# Why: the new seals take more.\n" + text()
    bench.session.act("draft", {"source": source})
    bench.sign_in("anders")
    bench.session.act("approve", {**demo.SIGNED, "key": f"draft:{FAMILY}/2"})
    assert page.open(f"approved:{FAMILY}/2", 0.0, "reference", METRIC).source == source
    assert bench.store.verify().ok


def test_the_units_own_mass_is_read_shown_and_written(page):
    """It chooses the scale that the unit is weighed on."""
    stated = text().replace(
        'bleed_allowance = "3.5 mL"', 'bleed_allowance = "3.5 mL"\nunit_mass = "1.4 kg"'
    )
    assert specification_from_toml(stated).oil.unit_mass == 1.4
    shown = page.check(stated, 0.0, "reference", METRIC)
    (group,) = (g for g in shown.groups if g.title == "Fill window")
    assert ("Unit without oil", "1.40 kg") in [(t.label, t.value) for t in group.terms]
    again = specification_from_toml(as_toml(specification_from_toml(stated)))
    assert again == specification_from_toml(stated)
    with pytest.raises(SpecificationError, match="unit_mass"):
        specification_from_toml(stated.replace('"1.4 kg"', '"0 kg"'))


def test_a_window_that_is_empty_says_that_no_fill_fits(page):
    wrong = text().replace('piston_room = "8 mm"', 'piston_room = "60 mm"')
    wrong = wrong.replace('piston_clearance = "5 mm"', 'piston_clearance = "60 mm"')
    found = page.check(wrong, 0.0, "reference", METRIC)
    assert found.problems[0].startswith("No fill fits: ")
    (group,) = (g for g in found.groups if g.title == "Fill window")
    assert group.terms[0].value == "no fill fits"
    assert "Least oil" not in [term.label for term in group.terms]


def test_a_draft_of_before_a_rule_was_made_is_listed_and_says_what_it_breaks(bench, page):
    wrong = text().replace('"209.5 mm"', '"150 mm"')
    s = specification_from(tomllib.loads(wrong))
    event = SpecificationDrafted(FAMILY, 2, wrong, s.sha256())
    bench.store.append([event], person="oberhauser", utc=datetime.now(UTC))
    key = f"draft:{FAMILY}/2"
    assert key in [row.key for row in page.rows()]
    opened = page.open(key, 0.0, "reference", METRIC)
    assert "sizes and fill give 209.93 mm" in opened.problems[0]
    bench.sign_in("anders")
    with pytest.raises(SpecificationError, match="sizes and fill give"):
        bench.session.act("approve", {**demo.SIGNED, "key": key})
