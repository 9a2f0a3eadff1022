"""A step that a person records and signs: its form is what each of its inputs brings to it."""

from benchstation.bench.session import BenchSession
from benchstation.domain.cautions import cautions_at
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.screens.bench.actions import deviation_action
from benchstation.screens.bench.forms import pressure_lines, sign_action
from benchstation.screens.bench.input_forms import AtStep, input_form
from benchstation.screens.model.elements import FieldKind, TaskView, Tone


def recorded_task(
    session: BenchSession, rebuild: Rebuild, step: Step, words: QuantityFormatter
) -> TaskView:
    """Return the task of a step that is signed with what its form says.

    A line or an action that several inputs bring stands there once.
    """
    at_step = AtStep(session, rebuild, step, words)
    forms = [input_form(at_step, asked) for asked in rebuild.specification.asked_at(step)]
    why_not = next((form.why_not for form in forms if form.why_not), "")
    label = next((form.signs for form in forms if form.signs), "Sign this step")
    lines = dict.fromkeys(line for form in forms for line in form.lines)
    actions = dict.fromkeys(action for form in forms for action in form.actions)
    accept = any(form.acceptable for form in forms)
    fields = tuple(field for form in forms for field in form.fields)
    waits = [(form.ticks_wait, Tone.PLAIN) for form in forms if form.ticks_wait]
    if waits:
        # A tick made before what it rests on holds would say something that was not so.
        fields = tuple(field for field in fields if field.kind is not FieldKind.CHECK)
    return TaskView(
        step.id,
        step.title,
        step.instruction,
        cautions_at(rebuild.specification, step),
        big=next((form.big for form in forms if form.big is not None), None),
        lines=(*pressure_lines(session, words), *lines, *waits),
        fields=fields,
        actions=(
            sign_action(not why_not, why_not, label),
            *actions,
            *((deviation_action(session, rebuild, step),) if accept else ()),
        ),
    )
