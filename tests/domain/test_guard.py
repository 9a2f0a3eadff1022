"""The guard as a specification: states of IEC 62682, latching, and that silence is never fine."""

import csv
import itertools
import math
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from benchstation.domain.guard import AlarmKind, AlarmState, Guard, over_all
from benchstation.domain.guard_limits import GuardError, GuardLimits, lowest_rating

HMI = Path(__file__).parents[1] / "reference" / "hmi.csv"
BAR = 1e5
LIMIT, WARNING = 30 * BAR, 20 * BAR
NORMAL = AlarmState.NORMAL
ACTIVE = AlarmState.ACTIVE_UNACKNOWLEDGED
ACKNOWLEDGED = AlarmState.ACTIVE_ACKNOWLEDGED
RETURNED = AlarmState.RETURNED_UNACKNOWLEDGED


def limits(**changes):
    """Thresholds of 20 and 30 bar with 1 bar of hysteresis, no delays but the staleness of 1 s."""
    given = {
        "warning_gauge_pa": WARNING,
        "limit_gauge_pa": LIMIT,
        "limit_source": "hose",
        "hysteresis_pa": BAR,
        "warning_hysteresis_pa": BAR,
        "warning_on_delay_s": 0.0,
        "off_delay_s": 0.0,
        "stale_after_s": 1.0,
        "max_rate_pa_s": 1e9,
    }
    return GuardLimits(**(given | changes))


def guard(*, armed=True, **changes):
    count = itertools.count(1)
    return Guard(limits(**changes), armed=armed, new_episode=lambda: f"episode {next(count)}")


def state(watch, kind):
    return {view.kind: view.state for view in watch.snapshot().alarms}.get(kind, NORMAL)


def moves(changes, kind):
    return [(change.old, change.new) for change in changes if change.kind is kind]


# --- the high limit ------------------------------------------------------------------------------


def test_the_limit_is_judged_on_the_very_reading():
    watch = guard()
    assert watch.judge_reading(0.0, LIMIT - 1) != ()  # the warning
    changes = watch.judge_reading(0.01, LIMIT)
    assert moves(changes, AlarmKind.HIGH_LIMIT) == [(NORMAL, ACTIVE)]
    (change,) = changes
    assert (change.at, change.gauge_pa, change.threshold_gauge_pa) == (0.01, LIMIT, LIMIT)
    assert watch.snapshot().worst.kind is AlarmKind.HIGH_LIMIT


def test_fallen_but_unacknowledged_stays_open():
    watch = guard()
    watch.judge_reading(0.0, LIMIT + BAR)
    watch.judge_reading(0.1, 0.0)
    assert state(watch, AlarmKind.HIGH_LIMIT) is RETURNED
    assert watch.snapshot().capture_locked
    changes = watch.acknowledge(0.2, "ada", "regulator drifted")
    assert (RETURNED, NORMAL) in moves(changes, AlarmKind.HIGH_LIMIT)
    assert {change.person for change in changes} == {"ada"}
    assert not watch.snapshot().capture_locked


def test_acknowledged_but_still_high_stays_open():
    watch = guard()
    watch.judge_reading(0.0, LIMIT)
    watch.acknowledge(0.1, "ada", "closing the valve")
    assert state(watch, AlarmKind.HIGH_LIMIT) is ACKNOWLEDGED
    watch.judge_reading(0.2, LIMIT - BAR)  # at limit minus hysteresis is not below it
    assert state(watch, AlarmKind.HIGH_LIMIT) is ACKNOWLEDGED
    changes = watch.judge_reading(0.3, LIMIT - BAR - 1)
    assert moves(changes, AlarmKind.HIGH_LIMIT) == [(ACKNOWLEDGED, NORMAL)]


@pytest.mark.parametrize(("person", "reason"), [("ada", ""), ("ada", "  "), ("", "why"), (" ", "")])
def test_an_acknowledgement_of_the_limit_needs_a_person_and_a_reason(person, reason):
    watch = guard()
    watch.judge_reading(0.0, LIMIT)
    with pytest.raises(GuardError, match="unacknowledged"):
        watch.acknowledge(0.1, person, reason)
    assert state(watch, AlarmKind.HIGH_LIMIT) is ACTIVE
    assert state(watch, AlarmKind.HIGH_WARNING) is ACTIVE


def test_a_warning_is_acknowledged_without_a_reason_and_one_episode_at_a_time():
    watch = guard()
    watch.judge_reading(0.0, LIMIT)
    warning = next(a for a in watch.snapshot().alarms if a.kind is AlarmKind.HIGH_WARNING)
    changes = watch.acknowledge(0.1, "ada", "", episode=warning.episode)
    assert [change.kind for change in changes] == [AlarmKind.HIGH_WARNING]
    assert state(watch, AlarmKind.HIGH_LIMIT) is ACTIVE
    assert watch.acknowledge(0.2, "ada", "", episode="gone") == ()


def test_the_peak_is_that_of_the_whole_episode():
    watch = guard()
    for at, bar in enumerate((31, 35, 33, 10)):
        watch.judge_reading(at / 10, bar * BAR)
    worst = watch.snapshot().worst
    assert worst.peak_gauge_pa == 35 * BAR
    watch.acknowledge(1.0, "ada", "slipped")
    (change,) = [c for c in watch.judge_reading(1.1, 32 * BAR) if c.kind is AlarmKind.HIGH_LIMIT]
    assert change.peak_gauge_pa == 32 * BAR
    assert change.episode != worst.episode


def test_a_second_rise_before_acknowledgement_is_the_same_episode():
    watch = guard()
    watch.judge_reading(0.0, LIMIT)
    first = watch.snapshot().worst.episode
    watch.judge_reading(0.1, 0.0)
    changes = watch.judge_reading(0.2, LIMIT)
    assert moves(changes, AlarmKind.HIGH_LIMIT) == [(RETURNED, ACTIVE)]
    assert watch.snapshot().worst.episode == first


def test_raising_the_limit_closes_nothing():
    watch = guard()
    watch.judge_reading(0.0, LIMIT)
    watch.acknowledge(0.1, "ada", "wrong hose entered")
    watch.set_limits(0.2, limits(limit_gauge_pa=60 * BAR))
    watch.judge_reading(0.3, LIMIT - 0.5 * BAR)
    assert state(watch, AlarmKind.HIGH_LIMIT) is ACKNOWLEDGED
    watch.judge_reading(0.4, LIMIT - 2 * BAR)
    assert state(watch, AlarmKind.HIGH_LIMIT) is NORMAL


def test_lowering_the_limit_judges_the_last_reading_at_once():
    watch = guard()
    watch.judge_reading(0.0, 15 * BAR)
    lower = limits(limit_gauge_pa=12 * BAR, warning_gauge_pa=10 * BAR)
    changes = watch.set_limits(0.1, lower)
    assert {c.kind for c in changes} == {AlarmKind.HIGH_LIMIT, AlarmKind.HIGH_WARNING}
    assert watch.limits is lower


def test_a_returned_alarm_acknowledged_blind_waits_for_a_reading():
    watch = guard()
    watch.judge_reading(0.0, LIMIT)
    watch.judge_reading(0.1, 0.0)
    watch.judge_fault(0.2, "loop current below 3.6 mA")
    watch.acknowledge(0.3, "ada", "looked at the dial")
    assert state(watch, AlarmKind.HIGH_LIMIT) is ACKNOWLEDGED
    watch.judge_reading(0.4, 0.0)
    assert state(watch, AlarmKind.HIGH_LIMIT) is NORMAL


# --- chatter -------------------------------------------------------------------------------------


def test_a_limit_exceeded_after_a_blind_acknowledgement_is_a_new_alarm():
    watch = guard()
    watch.judge_reading(0.1, 31 * BAR)
    watch.judge_reading(0.2, 0.0)
    watch.judge_reading(1.0, 0.0)
    assert state(watch, AlarmKind.HIGH_LIMIT) is AlarmState.RETURNED_UNACKNOWLEDGED
    watch.judge_reading(1.1, None)
    watch.acknowledge(1.2, "ada", "valve closed")
    assert state(watch, AlarmKind.HIGH_LIMIT) is AlarmState.ACTIVE_ACKNOWLEDGED
    changes = watch.judge_reading(1.3, 31 * BAR)
    assert moves(changes, AlarmKind.HIGH_LIMIT)
    assert state(watch, AlarmKind.HIGH_LIMIT) is AlarmState.ACTIVE_UNACKNOWLEDGED
    watch.judge_reading(1.4, 0.0)
    watch.judge_reading(3.0, 0.0)
    assert state(watch, AlarmKind.HIGH_LIMIT) is AlarmState.RETURNED_UNACKNOWLEDGED


def test_fluttering_about_the_threshold_makes_one_episode():
    watch = guard(off_delay_s=0.5)
    changes = []
    for step in range(200):
        changes += watch.judge_reading(step / 100, LIMIT + (-1) ** step * 2 * BAR)
    assert moves(changes, AlarmKind.HIGH_LIMIT) == [(NORMAL, ACTIVE)]


def test_a_warning_must_last_and_a_return_too():
    watch = guard(warning_on_delay_s=0.2, off_delay_s=0.5)
    for at in (0.0, 0.1):
        assert watch.judge_reading(at, WARNING) == ()
    watch.judge_reading(0.15, 0.0)
    assert watch.judge_reading(0.2, WARNING + BAR) == ()
    (change,) = watch.judge_reading(0.4, WARNING)
    assert (change.old, change.new, change.peak_gauge_pa) == (NORMAL, ACTIVE, WARNING + BAR)
    assert watch.judge_reading(0.5, 0.0) == ()
    assert watch.judge_reading(0.9, 0.0) == ()
    assert moves(watch.judge_reading(1.0, 0.0), AlarmKind.HIGH_WARNING) == [(ACTIVE, RETURNED)]


# --- over range ----------------------------------------------------------------------------------


@pytest.mark.parametrize("armed", [True, False])
def test_over_range_is_the_limit_exceeded_and_no_signal_fault(armed):
    watch = guard(armed=armed)
    watch.judge_reading(0.0, 14 * BAR)
    (change,) = watch.judge_over_range(0.1, "over range: OL")
    assert (change.kind, change.new) == (AlarmKind.HIGH_LIMIT, ACTIVE)
    assert change.detail == "over range: OL"
    assert watch.judge_over_range(0.2, "over range: OL") == ()
    seen = watch.snapshot()
    assert (seen.gauge_pa, seen.capture_locked) == (None, True)
    with pytest.raises(GuardError, match="with a reason"):
        watch.acknowledge(0.3, "ada", "")
    watch.acknowledge(0.4, "ada", "the regulator failed")
    assert state(watch, AlarmKind.HIGH_LIMIT) is ACKNOWLEDGED
    assert moves(watch.judge_reading(0.5, 0.0), AlarmKind.HIGH_LIMIT) == [(ACKNOWLEDGED, NORMAL)]


def test_an_infinite_reading_is_over_range():
    watch = guard()
    watch.judge_reading(0.0, math.inf)
    assert state(watch, AlarmKind.HIGH_LIMIT) is ACTIVE


def test_below_range_stays_a_fault_of_the_signal():
    watch = guard()
    watch.judge_reading(0.0, -0.1 * BAR)
    assert watch.snapshot().alarms == ()
    watch.judge_reading(0.1, -0.21 * BAR)
    assert state(watch, AlarmKind.SIGNAL_FAULT) is ACTIVE
    assert state(watch, AlarmKind.HIGH_LIMIT) is NORMAL


# --- heard again ---------------------------------------------------------------------------------


def acknowledged_at(gauge_pa, **changes):
    watch = guard(**changes)
    watch.judge_reading(0.0, gauge_pa)
    watch.acknowledge(0.125, "ada", "closing the valve")
    return watch


def test_an_acknowledged_limit_is_raised_anew_on_each_further_rise_of_five_percent():
    watch = acknowledged_at(LIMIT)
    heard = []
    for count in range(1, 200):
        gauge_pa = LIMIT + count * 0.1 * BAR
        for change in watch.judge_reading(0.125 + count * 0.01, gauge_pa):
            assert (change.kind, change.new) == (AlarmKind.HIGH_LIMIT, ACTIVE)
            assert change.person == ""
            heard.append(round(gauge_pa / BAR, 1))
            watch.acknowledge(0.125 + count * 0.01, "ada", "still closing it")
    assert heard == [round(30 + 1.5 * n, 1) for n in range(1, 14)]


def test_a_further_rise_is_told_also_while_nobody_has_acknowledged():
    """Whoever muted the tone hears it again."""
    watch = guard()
    watch.judge_reading(0.0, LIMIT)
    assert watch.judge_reading(0.1, LIMIT + 1.4 * BAR) == ()
    changes = watch.judge_reading(0.2, LIMIT + 1.6 * BAR)
    assert moves(changes, AlarmKind.HIGH_LIMIT) == [(ACTIVE, ACTIVE)]
    assert {view.episode for view in watch.snapshot().alarms} >= {changes[0].episode}


def test_an_acknowledged_limit_that_lasts_is_raised_anew_after_a_minute():
    watch = acknowledged_at(LIMIT + BAR, stale_after_s=5.0)
    raised = []
    for second in range(1, 200):
        if watch.judge_reading(0.125 + second, LIMIT + BAR):
            raised.append(second)
            watch.acknowledge(0.125 + second, "ada", "the vent is blocked")
    assert raised == [60, 120, 180]


def test_a_limit_acknowledged_while_it_falls_is_left_alone():
    watch = acknowledged_at(LIMIT + 3 * BAR)
    for count in range(1, 300):
        gauge_pa = max(LIMIT - 0.5 * BAR, LIMIT + 3 * BAR - count * 0.1 * BAR)
        assert watch.judge_reading(0.125 + count * 0.5, gauge_pa) == ()
    assert state(watch, AlarmKind.HIGH_LIMIT) is ACKNOWLEDGED


def test_over_range_after_an_acknowledgement_is_a_further_rise():
    watch = acknowledged_at(LIMIT)
    changes = watch.judge_over_range(0.2, "over range")
    assert moves(changes, AlarmKind.HIGH_LIMIT) == [(ACKNOWLEDGED, ACTIVE)]


def test_who_acknowledges_the_limit_acknowledges_the_warning_that_it_implies():
    watch = guard()
    watch.judge_reading(0.0, LIMIT)
    limit = watch.snapshot().worst
    changes = watch.acknowledge(0.1, "ada", "regulator drifted", episode=limit.episode)
    assert {change.kind for change in changes} == {AlarmKind.HIGH_LIMIT, AlarmKind.HIGH_WARNING}


# --- spoilt frames -------------------------------------------------------------------------------


@pytest.mark.parametrize("every", [2, 3])
def test_single_faulty_frames_hide_no_warning(every):
    watch = guard(warning_on_delay_s=0.2, off_delay_s=0.5)
    raised_at = None
    for count in range(100):
        at = count * 0.1
        if count % every == 0:
            changes = watch.judge_fault(at, "frame error")
        else:
            changes = watch.judge_reading(at, WARNING + BAR)
        if any(change.kind is AlarmKind.HIGH_WARNING for change in changes):
            raised_at = at
            break
    assert raised_at is not None
    assert raised_at <= 0.5


def test_a_faulty_frame_proves_no_fall():
    watch = guard(off_delay_s=0.5)
    watch.judge_reading(0.0, WARNING + BAR)
    watch.judge_reading(0.1, 0.0)
    watch.judge_fault(0.4, "frame error")
    watch.judge_reading(0.7, 0.0)
    assert state(watch, AlarmKind.HIGH_WARNING) is ACTIVE


# --- a signal that is not there ------------------------------------------------------------------


@pytest.mark.parametrize("value", [None, math.nan, -math.inf, -2 * BAR, -0.21 * BAR])
def test_what_is_no_pressure_is_a_fault_and_never_fine(value):
    watch = guard()
    watch.judge_reading(0.0, LIMIT)
    watch.acknowledge(0.1, "ada", "valve closed")
    (change,) = watch.judge_reading(0.2, value)
    assert (change.kind, change.new) == (AlarmKind.SIGNAL_FAULT, ACTIVE)
    assert state(watch, AlarmKind.HIGH_LIMIT) is ACKNOWLEDGED
    assert watch.snapshot().gauge_pa is None


def test_silence_is_an_alarm_even_before_the_first_reading():
    watch = guard()
    assert watch.judge_time(5.0) == ()
    assert watch.snapshot().capture_locked
    assert watch.judge_time(6.0) == ()
    (change,) = watch.judge_time(6.01)
    assert (change.kind, change.new) == (AlarmKind.SIGNAL_LOST, ACTIVE)
    watch.judge_reading(6.5, 0.0)
    assert state(watch, AlarmKind.SIGNAL_LOST) is RETURNED
    assert not watch.snapshot().capture_locked
    watch.acknowledge(6.6, "ada", "")
    assert watch.snapshot().alarms == ()


def test_a_gap_is_noticed_though_nobody_asked_meanwhile():
    watch = guard()
    watch.judge_reading(0.0, 0.0)
    changes = watch.judge_reading(9.0, 0.0)
    assert moves(changes, AlarmKind.SIGNAL_LOST) == [(NORMAL, ACTIVE), (ACTIVE, RETURNED)]


def test_without_an_instrument_silence_is_no_alarm_but_the_limit_still_is():
    watch = guard(armed=False)
    assert watch.judge_time(0.0) + watch.judge_time(99.0) + watch.judge_fault(99.0, "x") == ()
    assert not watch.snapshot().capture_locked
    assert moves(watch.judge_reading(99.1, LIMIT), AlarmKind.HIGH_LIMIT) == [(NORMAL, ACTIVE)]


def test_taking_the_instrument_away_returns_signal_alarms_only():
    watch = guard()
    watch.judge_reading(0.0, LIMIT)
    watch.judge_fault(0.1, "over range")
    watch.set_armed(0.2, armed=False)
    assert state(watch, AlarmKind.SIGNAL_FAULT) is RETURNED
    assert state(watch, AlarmKind.HIGH_LIMIT) is ACTIVE
    watch.set_armed(50.0, armed=True)
    assert watch.judge_time(50.9) == ()
    assert moves(watch.judge_time(51.1), AlarmKind.SIGNAL_LOST) == [(NORMAL, ACTIVE)]


def test_an_implausible_drop_does_not_prove_that_the_pressure_fell():
    watch = guard(max_rate_pa_s=50 * BAR)
    watch.judge_reading(0.0, LIMIT)
    watch.acknowledge(0.1, "ada", "valve closed")
    changes = watch.judge_reading(0.1, 0.0)
    assert moves(changes, AlarmKind.IMPLAUSIBLE_RATE) == [(NORMAL, ACTIVE)]
    assert state(watch, AlarmKind.HIGH_LIMIT) is ACKNOWLEDGED
    watch.judge_reading(0.2, 0.0)
    assert state(watch, AlarmKind.HIGH_LIMIT) is NORMAL
    assert state(watch, AlarmKind.IMPLAUSIBLE_RATE) is RETURNED


def test_frames_that_arrive_in_a_bunch_are_not_taken_for_a_jump():
    watch = guard(max_rate_pa_s=5 * BAR, rate_window_s=0.05)
    for step in range(400):
        # 2 bar/s with 10 ms frames delivered by sixteens: four at one time.
        changes = watch.judge_reading(step // 4 * 0.04, step * 0.02 * BAR)
        assert moves(changes, AlarmKind.IMPLAUSIBLE_RATE) == []


def test_time_handed_in_late_does_not_go_back():
    watch = guard()
    watch.judge_reading(10.0, 0.0)
    assert watch.judge_reading(9.0, 0.0) == ()
    assert watch.snapshot().at == 10.0


# --- limits --------------------------------------------------------------------------------------


def test_the_lowest_rating_in_the_path_is_named():
    ratings = {"body": 80 * BAR, "hose": 40 * BAR, "transducer": 60 * BAR}
    assert lowest_rating(ratings) == ("hose", 40 * BAR)


@pytest.mark.parametrize("ratings", [{}, {"hose": math.nan}, {"hose": 0.0}, {"a": 1.0, "b": -1.0}])
def test_a_path_without_sound_ratings_is_refused(ratings):
    with pytest.raises(GuardError):
        lowest_rating(ratings)


@pytest.mark.parametrize(
    "changes",
    [
        {"warning_gauge_pa": LIMIT},
        {"limit_gauge_pa": math.nan},
        {"limit_gauge_pa": math.inf},
        {"hysteresis_pa": -1.0},
        {"hysteresis_pa": LIMIT},
        {"warning_hysteresis_pa": WARNING},
        {"stale_after_s": 0.0},
        {"off_delay_s": math.nan},
    ],
)
def test_limits_that_contradict_each_other_are_refused(changes):
    with pytest.raises(GuardError):
        limits(**changes)


# --- words of the standards ----------------------------------------------------------------------


def test_states_mean_what_the_standard_says():
    rows = {row["quantity"]: row["value"] for row in csv.DictReader(HMI.read_text().splitlines())}
    assert rows["alarm_term:active"] == "alarm state in which the alarm condition is true"
    assert rows["alarm_term:latched"].startswith("stays until explicitly reset")
    letters = {"B": ACTIVE, "C": ACKNOWLEDGED, "D": RETURNED}
    for letter, meant in letters.items():
        words = rows[f"IEC62682_state_letter:{letter}"]
        assert meant.unacknowledged == ("unacknowledged" in words)
        assert meant.active == ("returned" not in words)
    assert not NORMAL.active
    assert not NORMAL.unacknowledged


def test_the_guards_of_several_gauges_are_one_to_whoever_asks():
    low, high = (Guard(limits(), gauge=name) for name in ("low", "high"))
    low.judge_reading(1.0, 2e5)
    assert over_all([low.snapshot(), high.snapshot()]).gauge_pa is None, "one is not heard yet"
    high.judge_reading(1.2, LIMIT)
    low.judge_fault(1.5, "broken wire")
    seen = over_all([low.snapshot(), high.snapshot()])
    assert [(a.kind, a.gauge) for a in seen.alarms] == [
        (AlarmKind.HIGH_LIMIT, "high"),
        (AlarmKind.SIGNAL_FAULT, "low"),
        (AlarmKind.HIGH_WARNING, "high"),
    ]
    assert (seen.worst, seen.capture_locked, seen.gauge_pa, seen.at) == (
        seen.alarms[0],
        True,
        None,
        1.2,
    )
    assert seen.alarms[0].gauge_pa == LIMIT
    assert over_all([high.snapshot()]) == high.snapshot()


class GuardMachine(RuleBasedStateMachine):
    """Any order of readings, faults, silence, new limits and acknowledgements."""

    pressures = st.one_of(
        st.floats(0, 60 * BAR),
        st.sampled_from([LIMIT, LIMIT - BAR, LIMIT - BAR - 1, WARNING, 0.0]),
    )

    def __init__(self):
        super().__init__()
        self.watch = guard()
        self.at = self.heard_at = 0.0
        self.limit = LIMIT
        self.lowest_limit = LIMIT
        self.fallen = self.acknowledged = True
        self.take(self.watch.judge_time(0.0))

    def step(self, seconds=0.05):
        self.at += seconds
        return self.at

    def take(self, changes):
        """Hold every close of the limit against what has happened in its episode."""
        for change in changes:
            again = change.kind is AlarmKind.HIGH_LIMIT and change.new is ACTIVE
            assert change.old is not change.new or again
            if again:
                self.acknowledged = False
            if change.kind is AlarmKind.HIGH_LIMIT and change.new is NORMAL:
                assert self.fallen, "closed though the pressure was not seen below"
                assert self.acknowledged, "closed though nobody acknowledged"

    def exceeded(self):
        if state(self.watch, AlarmKind.HIGH_LIMIT) is NORMAL:
            self.lowest_limit, self.acknowledged = self.limit, False
        self.lowest_limit = min(self.lowest_limit, self.limit)
        # A rise after a return wants a new acknowledgement.
        self.acknowledged &= not self.fallen
        self.fallen = False

    @rule(gauge_pa=pressures, seconds=st.sampled_from([0.001, 0.05, 0.5, 3.0]))
    def read(self, gauge_pa, seconds):
        self.step(seconds)
        if gauge_pa >= self.limit:
            self.exceeded()
        elif gauge_pa < self.lowest_limit - BAR:
            self.fallen = True
        self.take(self.watch.judge_reading(self.at, gauge_pa))
        self.heard_at = self.at
        assert self.watch.snapshot().gauge_pa == gauge_pa
        if gauge_pa >= self.limit:
            assert state(self.watch, AlarmKind.HIGH_LIMIT).active

    @rule(words=st.sampled_from(["over range", "OL"]))
    def over_range(self, words):
        self.exceeded()
        self.take(self.watch.judge_over_range(self.step(), words))
        self.heard_at = self.at
        assert state(self.watch, AlarmKind.HIGH_LIMIT).active
        assert self.watch.snapshot().gauge_pa is None

    @rule(value=st.sampled_from([None, math.nan, -9 * BAR]))
    def bad_reading(self, value):
        self.take(self.watch.judge_reading(self.step(), value))
        self.heard_at = self.at
        assert state(self.watch, AlarmKind.SIGNAL_FAULT).active
        assert self.watch.snapshot().gauge_pa is None

    @rule(seconds=st.sampled_from([0.3, 1.5]))
    def silence(self, seconds):
        self.take(self.watch.judge_time(self.step(seconds)))
        if self.at - self.heard_at > 1.0:
            assert state(self.watch, AlarmKind.SIGNAL_LOST).active

    @rule(limit=st.sampled_from([22 * BAR, LIMIT, 50 * BAR]))
    def new_limits(self, limit):
        self.limit = limit
        known = self.watch.snapshot().gauge_pa
        if known is not None and known >= limit:
            self.exceeded()
        self.take(self.watch.set_limits(self.step(), limits(limit_gauge_pa=limit)))

    @rule(reason=st.sampled_from(["", "valve closed"]))
    def acknowledge(self, reason):
        wanted = state(self.watch, AlarmKind.HIGH_LIMIT).unacknowledged
        if wanted and not reason:
            with pytest.raises(GuardError):
                self.watch.acknowledge(self.step(), "ada", reason)
            assert state(self.watch, AlarmKind.HIGH_LIMIT).unacknowledged
            return
        self.acknowledged = self.acknowledged or wanted
        self.take(self.watch.acknowledge(self.step(), "ada", reason))

    @invariant()
    def an_exceeded_limit_stays_open_until_both_are_done(self):
        if not (self.fallen and self.acknowledged):
            assert state(self.watch, AlarmKind.HIGH_LIMIT) is not NORMAL

    @invariant()
    def capture_is_locked_while_the_limit_is_open_or_nothing_is_known(self):
        snapshot = self.watch.snapshot()
        if state(self.watch, AlarmKind.HIGH_LIMIT) is not NORMAL or snapshot.gauge_pa is None:
            assert snapshot.capture_locked

    @invariant()
    def worst_is_the_first_of_the_open_alarms(self):
        snapshot = self.watch.snapshot()
        assert snapshot.worst == (snapshot.alarms[0] if snapshot.alarms else None)
        order = list(AlarmKind)
        ranks = [order.index(view.kind) for view in snapshot.alarms]
        assert ranks == sorted(ranks)


TestGuardMachine = GuardMachine.TestCase
TestGuardMachine.settings = settings(max_examples=100, stateful_step_count=40)
