"""What somebody may not do is not offered, and the table of actions alone says who may."""

from dataclasses import replace

import pytest

from benchstation.bench.commands.table import COMMANDS
from benchstation.bench.session import barred
from benchstation.demo import shop as demo
from benchstation.domain.people import Role
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.page import bench_view
from benchstation.screens.materials.page import Materials
from benchstation.screens.model.elements import ActionView, permitted
from benchstation.screens.people.page import open_person
from benchstation.screens.records.page import Records

METRIC = QuantityFormatter(UnitSystem.METRIC)
EVERYONE = ("kofler", "oberhauser", "anders")


def moment(bench):
    return bench_view(bench.session, METRIC)


@pytest.mark.parametrize("who", EVERYONE)
@pytest.mark.parametrize("kind", [None, StepKind.CONFIRM, StepKind.WEIGH, StepKind.CHARGE])
def test_what_is_offered_at_the_bench_is_never_refused_for_the_role(bench, kind, who):
    if kind is not None:
        bench.work_to(kind)
    bench.sign_in(who)
    view, person = moment(bench), bench.session.person
    shown = (*view.task.actions, *view.side_actions)
    assert [action for action in shown if action.id in COMMANDS]
    for action in shown:
        may = action.id not in COMMANDS or person.has(*COMMANDS[action.id].roles)
        if not may:
            assert not action.enabled
            assert action.why_not == COMMANDS[action.id].why_not(person)
            with pytest.raises(NotAllowedError, match="sign in"):
                bench.session.act(action.id, {"reason": "try"})


@pytest.mark.parametrize("who", EVERYONE)
def test_lists_and_records_offer_what_the_table_allows(bench, who):
    bench.work_to(None)
    unit = bench.session.rebuild.unit_id
    bench.sign_in(who)
    session, person = bench.session, bench.session.person
    bench_bars = moment(bench).barred
    assert bench_bars == barred(COMMANDS, person)
    record = Records(bench.store).open(unit, METRIC)
    lot = Materials(bench.store, session.shop, lambda: demo.AIR, lambda: session.today).open(
        "L-0417", person, METRIC
    )
    other = open_person(bench.store, "wieland", person)
    assert {action.does for action in record.actions} == {"dispose", "set_release_rule"}
    for action in (*permitted(record.actions, bench_bars), *lot.actions, *other.actions):
        known = COMMANDS.get(action.does or action.id)
        if known is not None and not person.has(*known.roles):
            assert (action.enabled, action.why_not) == (False, known.why_not(person))
    may_dispose = {a.enabled for a in permitted(record.actions, bench_bars)}
    assert may_dispose == {Role.QA in person.roles}


def test_nobody_signed_in_is_told_to_sign_in_first(bench):
    bars = moment(bench).barred
    assert set(bars.values()) == {"sign in first"}
    assert not {"sign_in", "badge", "typed"} & set(bars)
    assert {"dispose", "draft", "approve", "place_order", "fit"} <= set(bars)


def test_who_may_is_said_in_words():
    assert COMMANDS["dispose"].who() == "QA"
    assert COMMANDS["sign"].who() == "a technician or a bench lead"
    assert COMMANDS["deviation"].who() == "a bench lead or QA"


def test_an_id_counts_only_where_it_is_the_bench_s():
    leave = ActionView("leave", "Cancel", "Esc")
    bars = {"leave": "a technician does this"}
    assert permitted((leave,), bars) == (leave,)
    assert not permitted((leave,), bars, by_id=True)[0].enabled
    assert not permitted((replace(leave, id="x", does="leave"),), bars)[0].enabled
