"""No badge becomes text on record, whatever is typed where."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.bench import badge_texts
from benchstation.bench.badge_texts import BadgeTextError, BadgeTexts, parts_of
from benchstation.bench.commands.muting import Acknowledge
from benchstation.bench.commands.orders import ImportUnits
from benchstation.bench.commands.parsing import texts_of
from benchstation.bench.commands.pausing import HandOver
from benchstation.bench.commands.specifying import KeepDraft
from benchstation.demo import shop as demo
from benchstation.domain.people import LEAST_BADGE, MOST_BADGE, badge_mark
from benchstation.domain.specification import StepKind
from benchstation.driver_api.errors import StationError

BADGE = demo.BADGES["oberhauser"]
HOLDING = (
    BADGE,
    f" {BADGE} ",
    f"leaks {BADGE}",
    f"leak{BADGE}",
    f"{BADGE} leaks",
    f"a\n{BADGE}\nb",
)


def on_record(bench) -> str:
    return json.dumps([repr(entry.event) for entry in bench.store.entries()])


@pytest.mark.parametrize("text", HOLDING)
@pytest.mark.parametrize("action", ["deviation", "back", "abandon", "set_aside", "hand_over"])
def test_a_reason_that_holds_a_badge_is_refused_and_nothing_is_recorded(bench, action, text):
    bench.sign_in("oberhauser")
    bench.work_to(StepKind.CONFIRM)
    bench.sign_in("oberhauser")
    before, session = bench.store.head(), bench.session
    with pytest.raises(BadgeTextError, match="nothing was recorded") as refused:
        session.act(action, {"reason": text})
    assert BADGE not in str(refused.value)
    assert BADGE not in repr(refused.value.__dict__)
    assert bench.store.head() == before
    assert not session.rebuild.ended
    assert BADGE not in on_record(bench)


def test_a_badge_in_any_field_of_a_form_is_refused_and_not_kept_as_typed(bench):
    bench.sign_in("oberhauser")
    for fields in (
        {"serial": BADGE, "specification": "mr-46-front", "lot": "L-0417"},
        {"serial": "T-1", "specification": "mr-46-front", "lot": BADGE},
        {"serial": "T-1", "position": f"front{BADGE}"},
    ):
        with pytest.raises(BadgeTextError):
            bench.session.act("open", fields)
        with pytest.raises(BadgeTextError):
            bench.session.act("typed", fields)
    assert bench.session.rebuild is None
    bench.work_to(StepKind.CONFIRM)
    with pytest.raises(BadgeTextError):
        bench.session.act("typed", {"note1": BADGE})
    assert BADGE not in repr(bench.session.work.typed)


def test_where_a_badge_belongs_it_is_taken(bench):
    bench.session.act("sign_in", {"person": "", "pin": BADGE})
    assert bench.session.person.person_id == "oberhauser"
    bench.session.act("register_badge", {**demo.SIGNED, "badge": BADGE, "badge_again": BADGE})
    bench.session.act("badge", {"badge": demo.BADGES["kofler"]})
    assert bench.session.person.person_id == "kofler"


def test_a_badge_of_someone_who_left_is_a_text_like_any_other(bench):
    bench.sign_in("oberhauser")
    bench.session.act("take_off", {**demo.SIGNED, "person": "kofler", "reason": "moved away"})
    bench.session.act(
        "take_off", {**demo.SIGNED, "person": "wieland", "reason": demo.BADGES["kofler"]}
    )
    assert bench.session.shop.people["wieland"].left


def test_the_reason_of_an_alarm_and_a_check_weight_hold_none(bench):
    bench.sign_in("oberhauser")
    head = bench.store.head()
    with pytest.raises(BadgeTextError):
        bench.session.act("check", {"instrument": f"scale-1 {BADGE}"})
    with pytest.raises(BadgeTextError):
        bench.session.do(Acknowledge("alarm-1", f"regulator {BADGE}"))
    assert bench.store.head() == head


def test_a_text_is_tried_slowly_at_most_once(bench, monkeypatch):
    shop, slow = bench.session.shop, []

    def owner(marked, part, salt):
        slow.append(part)

    monkeypatch.setattr(badge_texts, "badge_owner", owner)
    marks = {badge_mark(text, *shop.badge_salts) for text in demo.BADGES.values()}
    unlucky = next(
        text for n in range(5000) if badge_mark(text := f"lot{n:03d}", *shop.badge_salts) in marks
    )
    texts = BadgeTexts()
    for _ in range(3):
        texts.refuse([unlucky], shop.people.values(), shop.badge_salts)
    assert slow == [unlucky]
    assert unlucky not in repr(vars(texts)), "an end of a badge is nearly the badge"


def test_no_badge_is_looked_for_where_nobody_has_one():
    BadgeTexts().refuse(["rescue-kofler"], [], "salt")


words = st.text(st.characters(codec="utf-8", exclude_categories=("Z", "C")), max_size=12)


@settings(max_examples=200)
@given(begun=st.lists(words, max_size=5), badge=words.filter(lambda t: len(t) >= LEAST_BADGE))
def test_what_was_begun_before_a_scan_hides_it_not(begun, badge):
    before = " ".join(begun)
    for text in (badge, f"{before}{badge}", f"{before} {badge}", f"{badge} {before}"):
        parts = list(parts_of(text))
        assert badge in parts
        assert len(parts) == len(set(parts))
        assert all(LEAST_BADGE <= len(part) <= MOST_BADGE for part in parts)


def test_the_refusal_is_one_of_the_station():
    assert issubclass(BadgeTextError, StationError)


def test_a_long_text_does_not_hold_the_bench_up(bench, monkeypatch):
    tried = []
    monkeypatch.setattr(badge_texts, "badge_owner", lambda *_: tried.append(1))
    people = bench.session.shop.people.values()
    long = "\n".join(f"word{n:05d} = {n}" for n in range(5000))
    for kept in (KeepDraft(long), ImportUnits(long)):
        BadgeTexts().refuse(texts_of(kept), people, bench.session.shop.badge_salts)
    assert not tried
    BadgeTexts().refuse(texts_of(HandOver(long)), people, bench.session.shop.badge_salts)
    assert tried, "what is looked through is tried"
