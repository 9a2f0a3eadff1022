"""The unit on the scale for the gas in it: what any step shows of it."""

from dataclasses import replace

from benchstation.bench.gas_weighing import wanted
from benchstation.bench.session import BenchSession
from benchstation.domain.rebuild import Rebuild
from benchstation.screens.model.elements import ActionView, TaskView, Tone

BEFORE = "no push force is measured: weigh the unit before any gas, and again once it is sealed"
AFTER = "weigh the sealed unit: it must have gained its gas"


def with_unit_weighing(session: BenchSession, rebuild: Rebuild, task: TaskView) -> TaskView:
    """Add to a task what the weighing of the whole unit waits for, or the action that begins it."""
    weighing = session.work.unit_weighing
    if weighing is not None:
        line = (weighing.phase.value, Tone.MANDATORY)
        stop = ActionView("cancel", "Stop weighing", "X")
        return replace(task, lines=(line, *task.lines), actions=(stop,))
    if not wanted(session, rebuild):
        return task
    line = (AFTER if rebuild.unit_before else BEFORE, Tone.CAUTION)
    action = ActionView("weigh_unit", "Weigh the unit", "Ctrl+M")
    return replace(task, lines=(line, *task.lines), actions=(*task.actions, action))
