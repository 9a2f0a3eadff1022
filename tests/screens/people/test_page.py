"""The page People: enrolling, roles, PINs, badges and leaving, each as a fact with who did it."""

import pytest

from benchstation.bench.staff import people_from
from benchstation.demo import shop as demo
from benchstation.domain.events import PersonEnrolled, PersonLeft, PersonPrefers
from benchstation.domain.people import BadgeError, DisplayPreferences, PinError, Role, check_pin
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.screens.bench.task import sign_in_form
from benchstation.screens.people.page import open_person, people_rows
from benchstation.store.errors import NotOnRecordError
from tests.stepped_bench import make_bench

LEAD = "oberhauser"
NEW = {"name": " Ines  Müller ", "technician": "yes", "pin": "314159", "pin_again": "314159"}


@pytest.fixture
def lead(bench):
    """A bench where the lead stands."""
    bench.sign_in(LEAD)
    return bench


def act(bench, action, **fields):
    return bench.session.act(action, fields)


def names(bench) -> list[str]:
    return [row.title for row in people_rows(bench.store)]


def opened(bench, key):
    return open_person(bench.store, key, bench.session.person)


def test_someone_enrolled_can_sign_in_at_once_and_after_a_restart(lead, tmp_path):
    assert act(lead, "enrol", **demo.SIGNED, **NEW) == "Ines Müller is enrolled."
    act(lead, "sign_in", person="ines-muller", pin="314159")
    assert lead.session.person.name == "Ines Müller"
    entry = lead.store.entries(kind=PersonEnrolled.kind)[-1]
    assert (entry.person, entry.event.roles) == (LEAD, ("technician",))
    lead.store.close()
    again = make_bench(tmp_path)
    act(again, "sign_in", person="ines-muller", pin="314159")
    again.store.close()


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"name": ""}, "name is missing"),
        ({"name": "a\u202eb"}, "name is missing"),
        ({"name": "x" * 201}, "name is missing"),
        ({"name": "mira KOFLER"}, "Mira Kofler is enrolled already"),
        ({"technician": ""}, "no role"),
        ({"pin_again": "314158"}, "not the same"),
    ],
)
def test_who_cannot_be_enrolled_leaves_nothing(lead, changed, said):
    before = lead.store.head()
    with pytest.raises(NotAllowedError, match=said):
        act(lead, "enrol", **demo.SIGNED, **{**NEW, **changed})
    assert lead.store.head() == before


def test_a_weak_pin_is_refused(lead):
    with pytest.raises(PinError, match="too easy"):
        act(lead, "enrol", **demo.SIGNED, **{**NEW, "pin": "123456", "pin_again": "123456"})


def test_two_of_one_spelling_get_two_ids(lead):
    act(lead, "enrol", **demo.SIGNED, **{**NEW, "name": "Ines Muller"})
    act(lead, "enrol", **demo.SIGNED, **NEW)
    act(lead, "enrol", **demo.SIGNED, **{**NEW, "name": "李"})
    assert {"ines-muller", "ines-muller-2", "person"} <= set(lead.session.shop.people)


@pytest.mark.parametrize("action", ["enrol", "take_back", "change_roles", "reset_pin", "take_off"])
@pytest.mark.parametrize("who", ["kofler", "anders"])
def test_only_a_lead_changes_others(bench, action, who):
    bench.sign_in(who)
    before = bench.store.head()
    with pytest.raises(NotAllowedError, match="is no bench lead"):
        act(bench, action, person="wieland", reason="r", **NEW)
    assert bench.store.head() == before


def test_roles_are_changed_and_count_at_once_also_for_who_is_signed_in(lead):
    act(lead, "change_roles", **demo.SIGNED, person="kofler", technician="yes", lead="yes")
    assert act(lead, "change_roles", **demo.SIGNED, person=LEAD, technician="yes").endswith(
        "is technician now."
    )
    assert not lead.session.person.has(Role.LEAD)
    with pytest.raises(NotAllowedError, match="is no bench lead"):
        act(lead, "change_roles", **demo.SIGNED, person=LEAD, lead="yes")
    lead.sign_in("kofler")
    act(lead, "change_roles", **demo.SIGNED, person=LEAD, lead="yes")


def test_the_last_lead_stays_lead(lead):
    for action, fields in (
        ("take_off", {"reason": "gone"}),
        ("change_roles", {"technician": "yes"}),
    ):
        with pytest.raises(NotAllowedError, match="last bench lead"):
            act(lead, action, **demo.SIGNED, person=LEAD, **fields)
    assert next(a for a in opened(lead, LEAD).actions if a.id == "take_off").why_not
    act(lead, "change_roles", **demo.SIGNED, person="kofler", lead="yes")
    act(lead, "take_off", **demo.SIGNED, person=LEAD, reason="retired")
    assert lead.session.person is None, "whoever is marked as left is signed out"
    lead.sign_in("kofler")
    with pytest.raises(NotAllowedError, match="last bench lead"):
        act(lead, "take_off", **demo.SIGNED, person="kofler", reason="gone")


def test_a_lead_who_cannot_sign_in_is_not_the_one_who_stays(lead):
    event = PersonEnrolled("ghost", "Ghost", ("lead",))
    lead.store.append([event], person="set-up", utc=lead.clock.utc())
    lead.session.shop.people.update(people_from(lead.store))
    with pytest.raises(NotAllowedError, match="last bench lead"):
        act(lead, "take_off", **demo.SIGNED, person=LEAD, reason="gone")


def test_whoever_left_cannot_sign_in_and_keeps_the_signatures(bench):
    bench.work_to(StepKind.MEASURE)
    bench.sign_in(LEAD)
    act(bench, "take_off", **demo.SIGNED, person="kofler", reason="moved away")
    left = bench.store.entries(kind=PersonLeft.kind)[-1]
    assert (left.person, left.event.reason) == (LEAD, "moved away")
    for action, fields in (
        ("sign_in", {"person": "kofler", "pin": demo.PIN}),
        ("badge", {"badge": demo.BADGES["kofler"]}),
    ):
        with pytest.raises(NotAllowedError):
            act(bench, action, **fields)
    assert "kofler" not in dict(sign_in_form(bench.session, "").fields[0].choices)
    assert {e.person for e in bench.store.entries(kind="step.signed")} == {"kofler"}
    assert people_rows(bench.store)[-1].state == "left"
    act(
        bench,
        "take_back",
        **demo.SIGNED,
        person="kofler",
        technician="yes",
        pin="314159",
        pin_again="314159",
    )
    act(bench, "sign_in", person="kofler", pin="314159")


def test_the_record_names_who_left(bench):
    bench.work_to(StepKind.FILE)
    bench.sign_in(LEAD)
    act(bench, "take_off", **demo.SIGNED, person="kofler", reason="moved away")
    act(bench, "file")
    record = bench.store.entries(kind="unit.filed")[0].event.record
    assert "Mira Kofler" in str(record["steps"])


def test_a_changed_pin_asks_for_the_old_one_and_wrong_ones_make_wait(bench):
    bench.sign_in()
    new = {"pin": "271828", "pin_again": "271828"}
    for _ in range(5):
        with pytest.raises(NotAllowedError, match="not your PIN"):
            act(bench, "change_pin", old="999999", **new)
    with pytest.raises(NotAllowedError, match="too many"):
        act(bench, "change_pin", old=demo.PIN, **new)
    bench.run(31)
    act(bench, "change_pin", old=demo.PIN, **new)
    act(bench, "sign_out")
    with pytest.raises(NotAllowedError, match="not the PIN"):
        bench.sign_in()
    act(bench, "sign_in", person="kofler", pin="271828")
    assert bench.session.person.roles == frozenset({Role.TECHNICIAN})
    said = [term.value for term in opened(bench, "kofler").groups[-1].terms]
    assert said[0] == "new PIN"


def test_a_lead_has_a_new_pin_typed_and_the_lock_is_lifted(lead):
    for _ in range(5):
        with pytest.raises(NotAllowedError):
            act(lead, "sign_in", person="kofler", pin="999999")
    act(lead, "reset_pin", **demo.SIGNED, person="kofler", pin="271828", pin_again="271828")
    assert check_pin(lead.session.shop.people["kofler"], "271828")
    act(lead, "sign_in", person="kofler", pin="271828")
    assert lead.session.person.badge_hash, "a new PIN leaves the badge"


def test_a_badge_is_scanned_twice_and_replaces_the_old_one(bench):
    bench.sign_in()
    with pytest.raises(NotAllowedError, match="not the same"):
        act(bench, "register_badge", **demo.SIGNED, badge="key-ring-1", badge_again="key-ring-2")
    both = demo.BADGES["wieland"]
    with pytest.raises(NotAllowedError, match="Jonas Wieland's badge"):
        act(bench, "register_badge", **demo.SIGNED, badge=both, badge_again=both)
    with pytest.raises(BadgeError):
        act(bench, "register_badge", **demo.SIGNED, badge="abc", badge_again="abc")
    act(bench, "register_badge", **demo.SIGNED, badge="key-ring-1", badge_again="key-ring-1")
    with pytest.raises(NotAllowedError, match="not known"):
        act(bench, "badge", badge=demo.BADGES["kofler"])
    act(bench, "badge", badge="key-ring-1")
    assert bench.session.person.person_id == "kofler"
    assert len(bench.store.entries(kind="badge.salt")) == 1


def test_a_badge_is_taken_away_by_its_owner_or_a_lead(bench):
    bench.sign_in("wieland")
    with pytest.raises(NotAllowedError, match="owner or a bench lead"):
        act(bench, "drop_badge", person="kofler")
    act(bench, "drop_badge", person="wieland")
    with pytest.raises(NotAllowedError, match="has no badge"):
        act(bench, "drop_badge", person="wieland")
    bench.sign_in(LEAD)
    act(bench, "drop_badge", person="kofler")
    with pytest.raises(NotAllowedError, match="not known"):
        act(bench, "badge", badge=demo.BADGES["kofler"])


def test_preferences_are_kept_and_change_nothing_else(bench, tmp_path):
    bench.sign_in()
    act(bench, "prefer", preferred_units="inch-pound", theme="light", text_scale="130")
    act(bench, "prefer", pour_tone="off")
    assert bench.session.person.preferences == DisplayPreferences("inch-pound", "light", 130, False)
    act(bench, "prefer", theme="bench", text_scale="bench")
    head = bench.store.head()
    act(bench, "prefer", theme="bench")
    assert bench.store.head() == head, "what is the same is no new fact"
    assert len(bench.store.entries(kind=PersonPrefers.kind)) == 3
    bench.store.close()
    again = make_bench(tmp_path)
    assert again.session.shop.people["kofler"].preferences == DisplayPreferences(
        "inch-pound", "", 0, False
    )
    assert check_pin(again.session.shop.people["kofler"], demo.PIN)
    again.store.close()


@pytest.mark.parametrize(
    "fields",
    [{"theme": "red"}, {"preferred_units": "ell"}, {"text_scale": "99"}, {"text_scale": "1e2"}],
)
def test_a_preference_that_is_none_is_refused(bench, fields):
    bench.sign_in()
    with pytest.raises(NotAllowedError):
        act(bench, "prefer", **fields)


def test_the_list_is_by_name_and_tells_how_each_signs_in(lead):
    assert names(lead) == ["Jonas Wieland", "Mira Kofler", "Selma Oberhauser", "Teo Anders"]
    rows = {row.key: row for row in people_rows(lead.store)}
    assert rows["kofler"].state == "PIN and badge"
    assert "since 2026-03-03" in rows[LEAD].below
    event = PersonEnrolled("ghost", "Ghost", ())
    lead.store.append([event], person="set-up", utc=lead.clock.utc())
    ghost = {row.key: row for row in people_rows(lead.store)}["ghost"]
    assert (ghost.state, ghost.below[0]) == ("cannot sign in", "no role")


def test_everyone_may_look_and_sees_why_not(bench):
    for who, why in ((None, "sign in first"), ("anders", "a bench lead does this")):
        if who:
            bench.sign_in(who)
        actions = {a.id: a for a in opened(bench, "kofler").actions}
        assert {a.why_not for a in actions.values()} == {why}
        assert "change_pin" not in actions
    own = {a.id for a in opened(bench, "anders").actions if a.enabled}
    assert own == {"change_pin", "register_badge", "prefer", "drop_badge"}


def test_what_is_open_tells_what_became_of_a_person(lead):
    act(lead, "change_roles", **demo.SIGNED, person="kofler", technician="yes", lead="yes")
    act(lead, "drop_badge", person="kofler")
    act(lead, "take_off", **demo.SIGNED, person="kofler", reason="moved away")
    act(
        lead,
        "take_back",
        **demo.SIGNED,
        person="kofler",
        qa="yes",
        pin="314159",
        pin_again="314159",
        confirmed_by="anders",
        confirm_pin=demo.PIN,
    )
    terms = opened(lead, "kofler").groups[-1].terms
    assert [term.value for term in terms] == [
        "enrolled again as QA",
        "left: moved away",
        "badge removed",
        "now technician and bench lead",
        "badge registered",
        "enrolled as technician",
    ]
    assert {term.source for term in terms} == {"by Selma Oberhauser"}


def test_nobody_of_that_name_is_said_so(lead):
    with pytest.raises(NotOnRecordError):
        opened(lead, "nobody")
    with pytest.raises(StationError, match="nobody is chosen"):
        act(lead, "reset_pin", **demo.SIGNED, person="nobody", pin="314159", pin_again="314159")
