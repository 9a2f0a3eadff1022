"""The form before a tare that would hide oil which no mass holds."""

from benchstation.bench.session import BenchSession
from benchstation.domain.cautions import cautions_at
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step
from benchstation.domain.statement_words import UNDONE, worded
from benchstation.domain.statements import Undone
from benchstation.domain.unweighed import emptied_field, statements
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.screens.bench.weigh_actions import LEAVE
from benchstation.screens.model.elements import ActionView, FieldKind, FieldView, TaskView, Tone

DO = {
    Undone.TAKEN_OUT: "take the oil that was not weighed out of the unit",
    Undone.PUT_BACK: "put what came out unweighed back into it",
}
SHOWN = 3
"""More reasons than this are one and the same story."""


def emptied_task(
    session: BenchSession, rebuild: Rebuild, step: Step, words: QuantityFormatter
) -> TaskView:
    """Ask a person to confirm that what was moved and not weighed is undone."""
    doubts = rebuild.unweighed
    why = tuple((f"without a tare: {worded(d.reason)}", Tone.CAUTION) for d in doubts[-SHOWN:])
    weighing = session.work.weighing
    if weighing is not None and weighing.uncaptured:
        about = words.rough_mass(weighing.uncaptured_kg)
        why = ((f"about {about} are not captured", Tone.CAUTION), *why)
    return TaskView(
        f"{step.id}-emptied",
        step.title,
        f"First {' and '.join(DO[said] for said in statements(doubts))}; then confirm and tare.",
        cautions_at(rebuild.specification, step),
        lines=why,
        fields=tuple(
            FieldView(emptied_field(n), UNDONE[statement], FieldKind.CHECK)
            for n, statement in enumerate(statements(doubts), 1)
        ),
        actions=(LEAVE, ActionView("tare", "Confirm and tare", "Return", primary=True)),
    )
