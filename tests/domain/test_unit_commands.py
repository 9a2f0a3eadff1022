from dataclasses import replace

import pytest

from benchstation.domain import unit_commands as commands
from benchstation.domain.events import (
    AlarmChanged,
    ChargeCaptured,
    DeviationSigned,
    HoldTested,
    MassCaptured,
    OilJudged,
    StepSigned,
    TareLost,
    TareProven,
)
from benchstation.domain.inputs.given import GasSeen, GaugeNow
from benchstation.domain.people import Person, Role
from benchstation.domain.rebuild import apply, fold
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.signing import BenchNow, sign_step
from benchstation.domain.statements import Code, Statement
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import METRIC
from benchstation.reports.evidence_words import evidence_in_words

TECHNICIAN = Person("ines", "Ines", frozenset({Role.TECHNICIAN}))
LEAD = Person("jonas", "Jonas", frozenset({Role.LEAD}))
OIL_FILL = Statement.of(Code.STEP_RESULT, title="Oil fill")
DEPTH = Statement.of(Code.STEP_RESULT, title="Piston depth")
TARE_AT_BLEED = TareProven("u1", "bleed", "scale-1", 0.0, 0.0, 9, "")
TARE = TareProven("u1", "oil", "scale-1", 0.0, 0.0, 9, "")


def judged(step, decision="pass", net=0.2219):
    return OilJudged(
        "u1", step, 0.2219, net, 0.0, 0.0017, 2e-4, 4e-4, 2.0, decision, 0.99, 262e-6, {}, ()
    )


def mass(step, purpose, kg):
    return MassCaptured("u1", step, purpose, "scale-1", kg, 1e-5, 9, 1e-4, "00" * 32, "")


def charge(decision="pass"):
    return ChargeCaptured(
        "u1", "charge", "gauge-1", 1.51e6, 1.5e6, 1.5e6, 4e4, 5e3, 1e4, 2.0, decision, 0.99,
        293.15, 101325.0, 1e-4, 1.8e-3, "00" * 32, "", {}, (),
    )  # fmt: skip


def held(decision="pass"):
    return HoldTested("u1", "charge", 1.5e6, 1.5e6, 30.0, 1e-6, 1e-6, 2e-3, decision, "00" * 32)


def at_gauge(gauge_pa):
    return BenchNow(gauge=GaugeNow(gauge_pa, "gauge-1", seen=GasSeen(12e5, 11e5)))


def signed(*steps):
    return [StepSigned("u1", step) for step in steps]


@pytest.fixture
def at(spec, fact, opened):
    def state(*events):
        return fold([fact(opened), *map(fact, events)], spec)

    return state


TO_PISTON = ("intake", "release", "strip", "rod", "stack_found", "parts", "stack_built")
BEFORE_OIL = (*TO_PISTON, "piston")
BEFORE_CHARGE = (*BEFORE_OIL, "oil", "bleed", "screw")


def test_the_route_goes_on_one_step_at_a_time(at):
    assert at().current.id == "intake"
    assert at(*signed("intake")).current.id == "release"
    assert at(*signed(*BEFORE_CHARGE, "charge", "seal", "function", "push")).current.id == "file"


def test_intake_wants_its_confirmation_and_its_note(at):
    with pytest.raises(NotAllowedError, match="Condition as found"):
        sign_step(at(), {"confirm1": "yes"})
    with pytest.raises(NotAllowedError, match="Serial on the body"):
        sign_step(at(), {"note1": "weeping"})
    events = sign_step(at(), {"confirm1": "yes", "note1": "weeping at wiper"})
    said = evidence_in_words(events[0].evidence, METRIC)
    assert said == "Condition as found: weeping at wiper"


@pytest.mark.parametrize("gauge", [None, 0.11e5, -0.2e5, 4e5])
def test_the_unit_may_not_be_opened_before_release_is_proven(at, gauge):
    state = at(*signed("intake"))
    with pytest.raises(NotAllowedError):
        sign_step(state, {"confirm1": "yes"}, at_gauge(gauge))


def test_a_zero_reading_alone_does_not_prove_release(at):
    state = at(*signed("intake"))
    with pytest.raises(NotAllowedError, match="stays in"):
        sign_step(state, {}, at_gauge(100.0))
    assert sign_step(state, {"confirm1": "yes"}, at_gauge(100.0))


def test_a_step_out_of_turn_is_refused(at):
    with pytest.raises(NotAllowedError, match="stands at 'Oil weigh-in'"):
        sign_step(at(*signed(*BEFORE_OIL)), {"confirm1": "yes"}, at_gauge(0.0))


def test_a_depth_outside_its_limits_needs_a_lead(at):
    state = at(*signed(*TO_PISTON))
    (event,) = sign_step(state, {"value1": "209.9"})
    said = evidence_in_words(event.evidence, METRIC)
    assert said == "209.90 mm, specified 209.50 ± 1.00 mm"
    with pytest.raises(NotAllowedError, match=r"208\.50 to 210\.50"):
        sign_step(state, {"value1": "212 mm"})
    with pytest.raises(StationError):
        sign_step(state, {"value1": "deep"})
    with pytest.raises(NotAllowedError, match="lead or QA"):
        commands.sign_deviation(state, TECHNICIAN, "bore end worn", DEPTH)
    with pytest.raises(NotAllowedError, match="reason"):
        commands.sign_deviation(state, LEAD, "  ", DEPTH)


def test_a_pass_signs_the_step_and_an_undecided_does_not(at):
    state = at(*signed(*BEFORE_OIL), TARE)
    passed = commands.capture_mass(state, TARE, mass("oil", "pour", 0.2249), judged("oil"))
    assert [e.kind for e in passed] == ["weigh.captured", "oil.judged", "step.signed"]
    unsure = commands.capture_mass(
        state, TARE, mass("oil", "pour", 0.2249), judged("oil", "undecided")
    )
    assert [e.kind for e in unsure] == ["weigh.captured", "oil.judged"]


def test_no_capture_without_a_proven_tare(at):
    for events in ([], [TARE, TareLost("u1", "oil", Statement(Code.LINE_LOST))]):
        state = at(*signed(*BEFORE_OIL), *events)
        with pytest.raises(NotAllowedError, match="tare is not proven"):
            commands.capture_mass(state, TARE, mass("oil", "pour", 0.22), judged("oil"))


def test_signing_a_step_ends_its_tare(at):
    assert at(*signed(*BEFORE_OIL), TARE, *signed("oil")).tare is None


def test_net_oil_is_poured_less_bled(at):
    state = at(*signed(*BEFORE_OIL), mass("oil", "pour", 0.3), mass("oil", "pour", 0.2249))
    assert state.net_shown_kg == pytest.approx(0.2249)
    state = at(*signed(*BEFORE_OIL), mass("oil", "pour", 0.2249), mass("bleed", "bleed", 0.003))
    assert state.net_shown_kg == pytest.approx(0.2219)


def test_the_guard_locks_the_capture_of_a_charge(at):
    state = at(*signed(*BEFORE_CHARGE))
    with pytest.raises(NotAllowedError, match="locked: high limit"):
        commands.capture_charge(state, charge(), locked="high limit")
    assert commands.capture_charge(state, charge(), locked="") == [charge()]


@pytest.mark.parametrize(
    ("charged", "hold", "kinds"),
    [
        ("pass", "pass", ["charge.hold_tested", "step.signed"]),
        ("pass", "fail", ["charge.hold_tested"]),
        ("undecided", "pass", ["charge.hold_tested"]),
    ],
)
def test_a_charge_is_signed_only_when_it_and_its_hold_pass(at, charged, hold, kinds):
    state = at(*signed(*BEFORE_CHARGE), charge(charged))
    assert [e.kind for e in commands.finish_hold(state, held(hold))] == kinds


def test_no_hold_without_a_charge(at):
    with pytest.raises(NotAllowedError, match="no captured charge"):
        commands.finish_hold(at(*signed(*BEFORE_CHARGE)), held())


def test_a_new_charge_forgets_the_old_hold(at):
    state = at(*signed(*BEFORE_CHARGE), charge(), held("fail"), charge())
    assert state.hold is None


def test_a_deviation_travels_with_the_unit_and_holds_it(at, fact):
    state = at(*signed(*BEFORE_OIL), mass("oil", "pour", 0.23), judged("oil", "fail", 0.23))
    for event in commands.sign_deviation(state, LEAD, "customer asks for it", OIL_FILL):
        state = apply(state, fact(event, "jonas"))
    assert state.current.id == "bleed"
    (reason,) = state.hold_reasons
    assert reason == Statement.of(Code.DEVIATION, of="step_result", title="Oil fill")


@pytest.mark.parametrize("net_m3", [-2.3e-8, 0.0, 4e-4])
def test_no_deviation_closes_a_unit_that_cannot_be_charged(at, net_m3):
    """Without oil, or without room for gas, there is no charge to aim at."""
    absurd = replace(judged("bleed", "fail"), net_volume_ref_m3=net_m3)
    state = at(*signed(*BEFORE_OIL, "oil"), mass("bleed", "bleed", 1e-5), absurd)
    with pytest.raises(NotAllowedError, match="cannot be charged"):
        commands.sign_deviation(state, LEAD, "as the customer has it", OIL_FILL)
    accepted = DeviationSigned("u1", "bleed", OIL_FILL, "before it was weighed")
    early = at(*signed(*BEFORE_OIL, "oil"), accepted, TARE_AT_BLEED)
    captured = mass("bleed", "bleed", 1e-5)
    events = commands.capture_mass(early, TARE_AT_BLEED, captured, absurd)
    assert [type(event) for event in events] == [MassCaptured, OilJudged], "nothing is signed"


def test_one_deviation_covers_a_step_until_it_is_gone_back_to(at, fact):
    state = at(*signed(*TO_PISTON))
    (event,) = commands.sign_deviation(state, LEAD, "bore end worn", DEPTH)
    state = apply(state, fact(event, "jonas"))
    with pytest.raises(NotAllowedError, match="signed for this step already"):
        commands.sign_deviation(state, LEAD, "bore end worn", DEPTH)
    (back,) = commands.reopen(state, "strip", "measured wrongly", gas_in_unit=False)
    state = apply(state, fact(back))
    for event in signed("strip"):
        state = apply(state, fact(event))
    assert commands.sign_deviation(state, LEAD, "bore end worn", DEPTH)


def test_an_exceeded_limit_holds_the_unit(at):
    alarm = AlarmChanged("u1", "e1", "high limit", "normal", 1e5, 3.1e6, 3e6, "hose")
    assert at(alarm).hold_reasons == (Statement(Code.HIGH_LIMIT),)


def test_going_back_undoes_all_after_it(at, fact):
    state = at(*signed(*BEFORE_OIL), mass("oil", "pour", 0.2249), judged("oil"), *signed("oil"))
    event, doubt = commands.reopen(state, "piston", "slipped", gas_in_unit=False)
    state = apply(state, fact(event))
    assert state.current.id == "piston"
    assert state.captures == ()
    assert state.net_shown_kg is None
    assert (doubt.purpose, doubt.about_kg) == ("pour", pytest.approx(0.2249))


def test_with_gas_in_the_unit_the_way_back_leads_through_release(at):
    state = at(*signed(*BEFORE_CHARGE), charge(), held(), *signed("charge"))
    (event,) = commands.reopen(state, "oil", "level wrong", gas_in_unit=True)
    assert event.step_id == "release"
    (event,) = commands.reopen(state, "charge", "leaks", gas_in_unit=True)
    assert event.step_id == "charge"


@pytest.mark.parametrize("reason", ["", "   "])
def test_going_back_and_abandoning_need_a_reason(at, reason):
    state = at(*signed("intake"))
    with pytest.raises(NotAllowedError, match="reason"):
        commands.reopen(state, "intake", reason, gas_in_unit=False)
    with pytest.raises(NotAllowedError, match="reason"):
        commands.abandon(state, reason)


def test_an_abandoned_unit_takes_nothing_more(at, fact):
    state = at()
    (event,) = commands.abandon(state, "body cracked")
    state = apply(state, fact(event))
    assert state.current is None
    with pytest.raises(NotAllowedError, match="ended"):
        sign_step(state, {"confirm1": "yes", "note1": "x"})
