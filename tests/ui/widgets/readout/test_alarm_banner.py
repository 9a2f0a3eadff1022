"""Banners: the worst is whole, acknowledging is deliberate, and a reason is asked in place."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from benchstation.ui.widgets.readout.alarm_banner import KEY, Banners
from tests.ui.fake_moments import ALARM, WARNING
from tests.ui.waiting import comes_and_stays, settled

HOLD = 50


@pytest.fixture
def banners(shown):
    made = shown(Banners(hold_ms=HOLD), size=(300, 640))
    made.sent = []
    made.acknowledged.connect(lambda alarm, reason: made.sent.append((alarm, reason)))
    return made


def hold(qtbot, banner) -> None:
    full = []
    banner.button.held.connect(lambda: full.append(1))
    banner.button.press()
    qtbot.waitUntil(lambda: bool(full), timeout=1500)


def test_nothing_is_shown_without_an_alarm(banners):
    assert not banners.show_alarms(())
    assert banners.to_hold is None


def test_an_alarm_says_what_and_what_to_do(banners):
    assert banners.show_alarms((ALARM,))
    (banner,) = banners.banners
    assert banner.headline.text() == ALARM.headline
    assert banner.instruction.text().startswith(ALARM.instruction)
    assert ALARM.peak in banner.facts.text()
    assert ALARM.since in banner.facts.text()
    assert KEY in banner.button.words
    assert banners.isVisible()


def test_only_a_new_alarm_is_new(banners):
    assert banners.show_alarms((ALARM,))
    assert not banners.show_alarms((replace(ALARM, peak="peak 32.00 bar"),))
    assert banners.show_alarms((ALARM, WARNING))
    assert not banners.show_alarms((WARNING,))


def test_an_alarm_that_is_raised_again_is_new_again(banners):
    banners.show_alarms((ALARM,))
    assert not banners.show_alarms((replace(ALARM, hold_label=""),)), "acknowledged"
    assert not banners.show_alarms((replace(ALARM, hold_label="", peak="peak 33.00 bar"),))
    assert banners.show_alarms((ALARM,))


def test_what_has_gone_back_is_outlined_and_what_is_active_is_filled(banners):
    banners.show_alarms((ALARM, replace(WARNING, active=False)))
    filled, outlined = banners.banners
    assert (filled.property("wash"), filled.property("outline")) == ("danger", None)
    assert (outlined.property("wash"), outlined.property("outline")) == (None, "caution")
    assert outlined.accessibleName().startswith("alarm, back to normal")
    banners.show_alarms((ALARM, WARNING))
    assert outlined.property("outline") is None


def test_without_a_reason_holding_is_enough(banners, qtbot):
    banners.show_alarms((WARNING,))
    assert not banners.banners[0].reason.isVisible()
    hold(qtbot, banners.banners[0])
    assert banners.sent == [(WARNING.id, "")]


def test_held_without_a_reason_it_asks_in_place_and_then_sends(banners, qtbot):
    banners.show_alarms((ALARM,))
    (banner,) = banners.banners
    assert banner.reason.isVisible()
    hold(qtbot, banner)
    assert banners.sent == []
    assert banner.window().focusWidget() is banner.reason
    QTest.keyClicks(banner.reason, "valve left open")
    QTest.keyClick(banner.reason, Qt.Key.Key_Return)
    assert banners.sent == [(ALARM.id, "valve left open")]


def test_a_reason_first_and_then_holding_sends_too(banners, qtbot):
    banners.show_alarms((ALARM,))
    (banner,) = banners.banners
    QTest.keyClicks(banner.reason, "  gauge was bumped ")
    QTest.keyClick(banner.reason, Qt.Key.Key_Return)
    assert banners.sent == []
    hold(qtbot, banner)
    assert banners.sent == [(ALARM.id, "gauge was bumped")]


def test_blanks_are_no_reason(banners, qtbot):
    banners.show_alarms((ALARM,))
    (banner,) = banners.banners
    hold(qtbot, banner)
    QTest.keyClicks(banner.reason, "   ")
    QTest.keyClick(banner.reason, Qt.Key.Key_Return)
    assert banners.sent == []


def test_what_is_typed_stays_while_the_reading_runs_and_goes_with_the_alarm(banners):
    banners.show_alarms((ALARM,))
    (banner,) = banners.banners
    QTest.keyClicks(banner.reason, "valve")
    for count in range(5):
        banners.show_alarms((replace(ALARM, headline=f"HIGH LIMIT   31.{count} bar"),))
    assert banner.reason.text() == "valve"
    banners.show_alarms((replace(ALARM, id="another"),))
    assert banner.reason.text() == ""


def test_holding_for_one_alarm_does_not_count_for_the_next(banners, qtbot):
    banners.show_alarms((ALARM,))
    (banner,) = banners.banners
    hold(qtbot, banner)
    banners.show_alarms((replace(ALARM, id="another"),))
    QTest.keyClicks(banner.reason, "words")
    QTest.keyClick(banner.reason, Qt.Key.Key_Return)
    assert banners.sent == []


def test_an_acknowledged_alarm_cannot_be_held_again(banners):
    banners.show_alarms((replace(ALARM, hold_label="", needs_reason=False),))
    (banner,) = banners.banners
    assert not banner.button.isVisible()
    assert not banner.reason.isVisible()
    assert banners.to_hold is None


def test_the_key_holds_the_worst_that_still_wants_it(banners):
    banners.show_alarms((ALARM, WARNING))
    assert banners.to_hold is banners.banners[0].button
    banners.show_alarms((replace(ALARM, hold_label=""), WARNING))
    assert banners.to_hold is banners.banners[1].button
    assert KEY in banners.banners[1].button.words


def test_markup_in_an_alarm_is_plain_text(banners):
    words = "<h1>HIGH</h1> &lt;b&gt;"
    banners.show_alarms((replace(ALARM, headline=words, instruction=words),))
    (banner,) = banners.banners
    for part in (banner.headline, banner.instruction, banner.facts):
        assert part.textFormat() is Qt.TextFormat.PlainText
    assert banner.headline.text() == words


def test_the_meaning_is_in_shape_and_words_too(banners):
    banners.show_alarms((ALARM, WARNING))
    danger, caution = banners.banners
    assert danger.mark.accessibleName() == "danger"
    assert caution.mark.accessibleName() == "caution"
    assert danger.property("wash") == "danger"
    assert danger.accessibleName() == f"alarm: {ALARM.headline}"


def test_a_hold_and_a_reason_stay_with_their_alarm_when_another_comes_above_it(banners, qtbot):
    banners.window().resize(300, 800)
    banners.show_alarms((ALARM,))
    (banner,) = banners.banners
    banner.reason.setFocus()
    QTest.keyClicks(banner.reason, "regulator too high")
    banner.button.press()
    banners.show_alarms((replace(WARNING, active=True), replace(ALARM, active=False)))
    assert [b.shown.id for b in banners.banners] == [WARNING.id, ALARM.id]
    settled()
    tops = [b.mapTo(banners, QPoint(0, 0)).y() for b in banners.banners]
    qtbot.waitUntil(lambda: bool(banners.sent), timeout=1500)
    assert banners.sent == [(ALARM.id, "regulator too high")]
    assert tops == sorted(tops)


def test_a_hold_ends_when_another_alarm_takes_its_place(banners, qtbot):
    banners.show_alarms((WARNING,))
    banners.banners[0].button.press()
    other = replace(WARNING, id="another")
    banners.show_alarms((other,))
    comes_and_stays(lambda: banners.sent == [], 4 * HOLD)
    assert banners.banners[0].shown is other
