"""The form of a value that was read by hand."""

from benchstation.bench.commands.by_hand import why_not_by_hand
from benchstation.bench.session import BenchSession
from benchstation.domain.cautions import cautions_at
from benchstation.domain.people import Person
from benchstation.domain.specification import Step, StepKind
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import Dimension, display_unit
from benchstation.screens.bench.weigh_actions import LEAVE
from benchstation.screens.bench.weigh_words import NOUN
from benchstation.screens.model.elements import ActionView, FieldKind, FieldView, TaskView, Tone


def by_hand_task(session: BenchSession, step: Step, words: QuantityFormatter) -> TaskView:
    """Ask for a value read on another instrument, and for the second person."""
    gas = step.kind is StepKind.CHARGE
    fitted = session.gauge if gas else session.scale
    unfit = fitted.unfit(session.today) or f"{fitted.registered.title} is lost"
    why_not = why_not_by_hand(session, step)
    own = session.person.person_id if session.person else ""
    people = sorted(session.shop.people.values(), key=lambda p: p.name)

    def may(person: Person) -> bool:
        return bool(person.pin_hash) and not person.left and person.person_id != own

    second = tuple((p.person_id, p.name) for p in people if may(p))
    alone = "" if second or session.person is None else session.person.name
    if alone:
        second = ((own, f"{alone}, twice: not independent"),)
    unit = display_unit(Dimension.PRESSURE if gas else Dimension.MASS, words.system)
    fields = (
        FieldView("by_hand", _label(session, gas), FieldKind.QUANTITY, hint=f"{unit}, as read"),
        FieldView("instrument", "Read on", FieldKind.TEXT, hint="name of scale or gauge"),
        FieldView("instrument_serial", "Its serial number", FieldKind.TEXT),
        FieldView("last_digit", "Its last digit", FieldKind.QUANTITY, hint=f"{unit}, one step"),
        FieldView("expanded", "Its uncertainty U", FieldKind.QUANTITY, hint=f"{unit}, k = 2"),
        FieldView("second", "Second person", FieldKind.CHOICE, choices=second),
        FieldView("pin", "PIN of the second person", FieldKind.PIN),
    )
    lines = [(f"by hand, since {unfit}; the unit goes to QA hold", Tone.CAUTION)]
    if gas:
        lines.append(("the guard keeps watching; read the pressure once settled", Tone.PLAIN))
    if why_not:
        lines.append((why_not, Tone.DANGER))
    return TaskView(
        f"{step.id}-hand",
        f"{step.title}: by hand",
        f"Read it on {'a gauge, once settled' if gas else 'another scale'}; a colleague confirms.",
        cautions_at(session.unit().specification, step) if gas else (),
        lines=tuple(lines),
        fields=fields,
        actions=(
            LEAVE,
            ActionView(
                "take_by_hand", "Save by hand", "Return", not why_not, why_not, primary=True
            ),
        ),
    )


def _label(session: BenchSession, gas: bool) -> str:
    if gas:
        return "Settled pressure, gauge"
    weighing = session.work.weighing
    return f"Mass, {NOUN[weighing.plan.purpose]}" if weighing else "Mass"
