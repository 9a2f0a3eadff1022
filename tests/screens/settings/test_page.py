"""The page Settings: groups, values in one's units, who changed what, forms that send it back."""

import pytest

from benchstation.bench.bench_settings import BenchSettings, Group
from benchstation.config.settings import Settings
from benchstation.demo import shop as demo
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import METRIC, QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.elements import FieldKind
from benchstation.screens.settings.page import CHANGE, open_settings, settings_rows

LEAD = "oberhauser"
INCH = QuantityFormatter(UnitSystem.INCH_POUND)
LAMP = {
    "url": "gauge",
    "rts": {"flash": ["warning", "alarm"], "steady": ["acknowledged"], "fail_safe": "on"},
}


@pytest.fixture
def lead(bench):
    settings = Settings.model_validate(
        {"path_ratings": demo.RATINGS, "altitude_m": 640, "lamp": LAMP, "sign_out_after_s": 600}
    )
    bench.session.go_by(BenchSettings(settings))
    bench.sign_in(LEAD)
    return bench


def opened(bench, group, words=METRIC):
    session = bench.session
    return open_settings(group, session.settings, session.person, words, bench.store, session.shop)


def terms(detail, title="In force") -> dict[str, str]:
    group = next(g for g in detail.groups if g.title == title)
    return {t.label: t.value for t in group.terms}


def test_every_group_is_listed_with_its_values_and_whether_it_is_signed(lead):
    rows = settings_rows(lead.session.settings, METRIC)
    assert [row.key for row in rows] == list(Group)
    by_key = {row.key: row for row in rows}
    assert by_key["air"].below == ("Altitude: 640 m; Air temperature counts for: 1 h",)
    assert by_key["air"].state == "signed"
    assert by_key["window"].state == ""
    assert by_key["pressure path"].below[0].startswith("fill hose: 35.00 bar gauge")


def test_the_lowest_rating_is_called_the_limit_and_all_follow_the_units(lead):
    detail = opened(lead, "pressure path", INCH)
    first = detail.groups[0].terms[0]
    assert (first.label, first.source, first.strong) == ("fill hose", "the high limit", True)
    assert first.value == "507.6 psi gauge"
    air = terms(opened(lead, "air", INCH))
    assert (air["Altitude"], air["Room changes in an hour"]) == ("2099.74 ft", "3.6 °F")
    assert terms(opened(lead, "people at the bench")) == {
        "Signed out after": "600 s",
        "Second signature after": "900 s",
    }


def test_what_a_form_shows_sent_back_unchanged_changes_nothing(lead):
    for words in (METRIC, INCH):
        for group in Group:
            form = opened(lead, group, words).forms[CHANGE]
            sent = {field.id: field.value for field in form.fields}
            said = lead.session.act(
                CHANGE, {"group": group, "units": words.system.value, **sent, "signature": demo.PIN}
            )
            assert said == "Nothing was changed.", (group, words.system)


def test_a_choice_shows_what_is_in_force(lead):
    form = opened(lead, "lamp and feed").forms[CHANGE]
    rts = next(f for f in form.fields if f.id == "lamp:rts")
    assert (rts.kind, rts.value) == (FieldKind.CHOICE, "flash")
    assert terms(opened(lead, "checks")) == {"Check each day": "scales", "Start of the day": "on"}


def test_who_changed_what_is_told_with_what_it_was_before(lead):
    lead.session.act(
        CHANGE,
        {
            "group": "pressure path",
            **{"part:0": "fill hose", "rating:0": "30 bar"},
            "reason": "new hose",
            "signature": demo.PIN,
        },
    )
    (term,) = opened(lead, "pressure path").groups[1].terms
    assert term.source == "by Selma Oberhauser: new hose"
    assert term.value == (
        "fill hose 30.00 bar gauge, was 35.00 bar gauge; fill tool taken out; gauge range taken "
        "out; regulator outlet taken out"
    )


def test_a_technician_sees_all_and_is_told_who_may_change_it(lead):
    lead.sign_in("kofler")
    detail = opened(lead, "pressure path")
    (change,) = detail.actions
    assert (change.enabled, change.why_not) == (False, "a bench lead does this")
    assert not detail.forms


def test_a_group_that_is_none_is_refused(lead):
    with pytest.raises(StationError, match="no such group"):
        opened(lead, "engine")
