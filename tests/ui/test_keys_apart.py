"""No two buttons that are seen at once have the same key, the hand of the demonstration open."""

from dataclasses import replace

import pytest
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QApplication

from benchstation.demo import shop as demo
from benchstation.domain.specification import StepKind
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.materials.page import BOTTLE, Materials
from benchstation.screens.people.page import open_person
from benchstation.screens.records.page import Records
from benchstation.ui.widgets.forms.stack_field import StackField
from benchstation.ui.widgets.readout.action_button import ActionButton
from tests.stepped_bench import make_bench
from tests.ui import fake_moments
from tests.ui.demo_moments import moments_of
from tests.ui.every_page import EVERY_PAGE, KEYS
from tests.ui.fake_station import FakeHand

METRIC = QuantityFormatter(UnitSystem.METRIC)
FAKES = ("sign_in", "next_unit", "intake", "pour", "undecided", "charge", "two_alarms", "filed")


def keys_seen(window) -> dict[str, list[str]]:
    """Return the words of the buttons that are seen, by key; a stack's keys are those of its rows.

    Of two stacks the one that holds the keyboard has the keys; one stands for both.
    """
    seen: dict[str, list[str]] = {}
    stacks = [stack for stack in window.findChildren(StackField) if stack.isVisible()]
    for button in window.findChildren(ActionButton):
        key = QKeySequence(button.action.key).toString()
        if button.isVisible() and key and not any(s.isAncestorOf(button) for s in stacks[1:]):
            seen.setdefault(key, []).append(button.action.label)
    return seen


def clashes(window) -> dict[str, list[str]]:
    QApplication.processEvents()
    return {key: words for key, words in keys_seen(window).items() if len(words) > 1}


@pytest.fixture
def with_hand(open_bench):
    def open_it(view):
        bench = open_bench(view, hand=FakeHand(), size=(1600, 900))
        if not bench.window.bench.demo.isVisible():
            bench.key("F10")
        assert bench.window.bench.demo.isVisible()
        return bench

    return open_it


@pytest.mark.parametrize("name", FAKES)
def test_at_every_moment_and_its_prompts(with_hand, name):
    view = getattr(fake_moments, name)()
    bench = with_hand(view)
    assert not clashes(bench.window)
    for bar in (bench.task.action_bar, bench.window.bench.side):
        for action in [b.action for b in bar.buttons if b.isVisible() and b.action.needs_reason]:
            bench.task.action_bar.ask(action)
            assert bench.task.action_bar.question.isVisible()
            assert not clashes(bench.window), action.label
            bench.task.action_bar.stop_asking()


@pytest.mark.parametrize("page", EVERY_PAGE)
def test_on_every_page_and_in_each_of_its_forms(with_hand, qtbot, page):
    bench = with_hand(fake_moments.pour())
    bench.key(KEYS[page])
    qtbot.wait(150)
    window = bench.window
    assert not clashes(window)
    made = window.made[window.page]
    bars = [b for n in ("action_bar", "qa", "out") if (b := getattr(made, n, None)) is not None]
    for bar in bars:
        for action in [b.action for b in bar.buttons if b.isVisible() and b.action.enabled]:
            if action.needs_reason:
                bar.ask(action)
                assert not clashes(window), action.label
                bar.stop_asking()
            elif action.id in ("place", "list", "change", "new"):
                bar.chosen.emit(action.id, "")
                assert not clashes(window), action.label
                bar.chosen.emit("leave", "")
                qtbot.wait(50)


@pytest.mark.parametrize("family", demo.LOT_OF)
def test_at_every_step_of_a_demo_unit_and_its_sheets(with_hand, tmp_path, family):
    stepped = make_bench(tmp_path)
    bench = with_hand(fake_moments.sign_in())
    seen = set()
    for view in moments_of(family):
        bench.show(view)
        seen.add(view.task.step_id)
        assert not clashes(bench.window), view.task.title
    route = stepped.session.shop.specifications[family, 1].steps
    # A unit that waits for its second reading leaves the bench there.
    waits = [place for place, step in enumerate(route) if step.kind is StepKind.SECOND]
    steps = {step.id for step in (route[: waits[0] + 1] if waits else route)}
    assert steps <= seen, steps - seen
    stepped.store.close()


def test_lists_and_records_of_the_station_have_each_key_once(with_hand, tmp_path):
    stepped = make_bench(tmp_path)
    stepped.work_to(None)
    unit = stepped.session.rebuild.unit_id
    materials = Materials(
        stepped.store, stepped.session.shop, lambda: demo.AIR, lambda: stepped.session.today
    )
    lead = stepped.session.shop.people["oberhauser"]
    bench = with_hand(fake_moments.pour())
    bench.key("F4")
    QApplication.processEvents()
    rest = {key for key, _ in keys_seen(bench.window).items()}
    details = [open_person(stepped.store, who, lead) for who in ("oberhauser", "kofler")]
    details += [materials.open(key, lead, METRIC) for key in ("L-0417", BOTTLE, "kit\nSK-46\nK-88")]
    for detail in details:
        keys = [QKeySequence(action.key).toString() for action in detail.actions]
        assert len(keys) == len(set(keys))
        assert not set(keys) & {key for key in rest if key.startswith(("Alt", "F"))}
    record = Records(stepped.store).open(unit, METRIC)
    own = [QKeySequence(a.key).toString() for a in (*record.actions, *record.acts)]
    assert len(own) == len(set(own)) > 3
    assert not set(own) & rest
    stepped.store.close()


def test_the_test_sees_a_clash(with_hand):
    view = fake_moments.pour()
    first, *others = view.task.actions
    bench = with_hand(
        replace(view, task=replace(view.task, actions=(replace(first, key="Alt+P"), *others)))
    )
    assert list(clashes(bench.window)) == ["Alt+P"]
