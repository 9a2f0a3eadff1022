"""What stands at a step that somebody left: the note of a hand-over, and the proof that is due."""

from dataclasses import replace

from benchstation.bench.session import BenchSession
from benchstation.domain.cautions import cautions_at
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step, StepKind
from benchstation.quantities.formatter import QuantityFormatter, local_time
from benchstation.screens.bench.input_forms import AtStep, input_form
from benchstation.screens.bench.released import zero_at_gauge
from benchstation.screens.model.elements import ActionView, TaskView, Tone

NOTE, PROOF = "note", "proof"


def left_by(session: BenchSession, rebuild: Rebuild, task: TaskView) -> TaskView:
    """Put the note of a hand-over first until somebody has read it; readings stay in view."""
    note = rebuild.unread
    if note is None:
        return task
    # A note that says "tomorrow" is read after a night.
    who = session.shop.people[note.person].name
    left = f"by {who}, {local_time(note.utc)}"
    return replace(
        task,
        step_id=NOTE,
        lines=((f"Handed over: {note.note}", Tone.MANDATORY), (left, Tone.QUIET), *task.lines),
        fields=(),
        actions=(ActionView("take_over", "Read: I continue here", "Return", primary=True),),
    )


def proof_task(
    session: BenchSession, rebuild: Rebuild, step: Step, words: QuantityFormatter
) -> TaskView:
    """Ask anew for the proof of the release, before the work at ``step`` goes on."""
    release = rebuild.specification.step_of(StepKind.RELEASE)
    empty, number, line = zero_at_gauge(session, rebuild, words)
    aside = rebuild.asides[-1]
    at_step = AtStep(session, rebuild, release, words)
    forms = [input_form(at_step, asked) for asked in release.asked]
    return TaskView(
        PROOF,
        f"Prove that the gas is out, before: {step.title}",
        "This unit was set aside. Connect the gauge, push the rod fully in and watch it.",
        cautions_at(rebuild.specification, release),
        big=number,
        lines=(line, (f"set aside: {aside.reason}", Tone.PLAIN), *_uncaptured(rebuild, words)),
        fields=tuple(field for form in forms for field in form.fields),
        actions=(
            ActionView(
                "prove", "The gas is out", "Return", empty, "" if empty else line[0], primary=True
            ),
            ActionView("to_release", "Back to the release", "Ctrl+R", needs_reason=True),
        ),
    )


def _uncaptured(rebuild: Rebuild, words: QuantityFormatter) -> tuple[tuple[str, Tone], ...]:
    if rebuild.uncaptured is None:
        return ()
    off = words.mass(rebuild.uncaptured.uncaptured_kg, 0)
    return ((f"about {off} of oil are not captured: put that back before you tare", Tone.CAUTION),)
