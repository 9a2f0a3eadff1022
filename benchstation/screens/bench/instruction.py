"""What is to be done now, said once: while an alarm is open, what it asks for and nothing else."""

from dataclasses import replace

from benchstation.domain.guard import AlarmKind, AlarmView, GuardSnapshot
from benchstation.screens.model.elements import ActionView, TaskView, Tone

RESULTS = ("capture", "hold", "sign", "file")
"""Actions that put a result on record: none of them while the guard's word is newer than they."""
BESIDE_THE_WORK = ("sign-in", "open", "filed", "abandoned")
"""Pages of the bench without a step: who signs in to acknowledge must read how."""
ALARM_DO = {
    AlarmKind.HIGH_LIMIT: "Close the bottle valve and vent the line. Capture is locked.",
    AlarmKind.HIGH_WARNING: "Close the bottle valve now.",
    AlarmKind.SIGNAL_LOST: "The pressure is not known: close the bottle valve, check the cable.",
    AlarmKind.SIGNAL_FAULT: "The pressure is not known: close the bottle valve, check the gauge.",
    AlarmKind.FROZEN: "Close the bottle valve; the gauge may be frozen.",
    AlarmKind.IMPLAUSIBLE_RATE: "Close the bottle valve; check gauge and hose first.",
}
ACKNOWLEDGE_FIRST = "Keep the bottle valve closed, and acknowledge the alarm first."


def alarm_instruction(seen: GuardSnapshot) -> tuple[str, Tone] | None:
    """Return what an open alarm asks for, the worst active one first; ``None`` while none is open.

    An alarm that has gone back asks only to be acknowledged.
    """
    active = next((alarm for alarm in seen.alarms if alarm.state.active), None)
    if active is not None:
        return ALARM_DO[active.kind], tone_of(active)
    return (ACKNOWLEDGE_FIRST, Tone.CAUTION) if seen.alarms else None


def instruction_now(seen: GuardSnapshot, *, stale: bool) -> tuple[str, Tone] | None:
    """Return what guard and gauge ask for before anything that a step advises; ``None``: nothing.

    A pressure that is not known asks for it before the guard's alarm has come.
    """
    said = alarm_instruction(seen)
    if said is None and stale:
        return "Pressure not known: close the bottle valve.", Tone.DANGER
    return said


def tone_of(alarm: AlarmView) -> Tone:
    """Return how much an alarm matters."""
    return Tone.CAUTION if alarm.kind is AlarmKind.HIGH_WARNING else Tone.DANGER


def under_alarm(task: TaskView, seen: GuardSnapshot) -> TaskView:
    """Return a task as it stands under the guard's state: its own words give way to an alarm's."""
    said = alarm_instruction(seen)
    if said is None or task.step_id in BESIDE_THE_WORK:
        return task
    return replace(task, instruction=said[0])


def overtaken(task: TaskView, seen: GuardSnapshot) -> TaskView:
    """Return a task that was built before the guard's last change: it advises nothing any more."""
    said = alarm_instruction(seen)
    lines = (said,) if said is not None else ()
    actions = tuple(_held_back(action) for action in task.actions)
    return replace(under_alarm(task, seen), lines=lines, actions=actions, urge=0.0)


def _held_back(action: ActionView) -> ActionView:
    if action.id not in RESULTS:
        return action
    return replace(action, enabled=False, why_not="the alarms have changed: wait a moment")
