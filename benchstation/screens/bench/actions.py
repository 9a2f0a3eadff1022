"""Actions that more than one step offers."""

from benchstation.bench.session import BenchSession
from benchstation.domain.pausing import why_not_aside
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step
from benchstation.screens.model.elements import ActionView

EARLIER = "earlier"
"""The window itself does this one: it opens the records of the serial."""
NOTE_WANTED = "a note to the next person: where does the work stand, what to look out for?"


def deviation_action(session: BenchSession, rebuild: Rebuild, step: Step) -> ActionView:
    """Return the action that accepts a result outside its limits."""
    signed = rebuild.deviated(step.id)
    return ActionView(
        "deviation",
        "Accept as a deviation",
        "Ctrl+D",
        not signed,
        "it is signed already" if signed else "",
        needs_reason=True,
        needs_pin=True,
    )


def line_check_actions(session: BenchSession) -> tuple[ActionView, ...]:
    """Return the check of the fill line's gauge where the bench asks for one each day."""
    gauge = session.gauge
    if not gauge.checked_daily or gauge.checked_on == session.today:
        return ()
    return (ActionView("check_line", "Line open: check the gauge's zero", "Ctrl+J"),)


def side_actions(session: BenchSession) -> tuple[ActionView, ...]:
    """Return the quieter actions that are there at every step."""
    actions = [ActionView("units", "Metric or inch", "Ctrl+U")]
    if session.person is None:
        return tuple(actions)
    rebuild = session.rebuild
    if session.on_bench.next_unit.serial:
        actions.append(_earlier(session))
    if rebuild is not None and not rebuild.ended:
        signed = bool(rebuild.signatures)
        actions += [
            ActionView(
                "back",
                "Back one step",
                "Ctrl+B",
                signed,
                "" if signed else "nothing signed",
                needs_reason=True,
            ),
            ActionView("abandon", "Abandon unit", "Ctrl+Delete", needs_reason=True),
            _set_aside(session, rebuild),
            ActionView("hand_over", "Hand over", "Ctrl+T", needs_reason=True, asks=NOTE_WANTED),
        ]
    actions.append(ActionView("switch", "Switch person", "Ctrl+W"))
    actions.append(ActionView("sign_out", "Sign out", "Ctrl+L"))
    return tuple(actions)


def _set_aside(session: BenchSession, rebuild: Rebuild) -> ActionView:
    gauge_pa = session.gauge.good_value(session.clock.seconds())
    why = why_not_aside(rebuild, gauge_pa, session.display)
    why = f"{why}: vent it first" if why else ""
    return ActionView("set_aside", "Set aside", "Ctrl+I", not why, why, needs_reason=True)


def _earlier(session: BenchSession) -> ActionView:
    earlier = session.on_bench.next_unit.earlier
    times = f" ({earlier.times})" if earlier else ""
    why = "" if earlier else "none is filed"
    return ActionView(EARLIER, f"Earlier rebuilds{times}", "Ctrl+G", earlier is not None, why)
