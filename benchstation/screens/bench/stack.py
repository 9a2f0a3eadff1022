"""A disc stack being recorded: its discs, and what it differs from, in words and marks."""

from benchstation.bench.session import BenchSession
from benchstation.bench.step_history import found_now
from benchstation.domain.disc_stack import (
    AS_BUILT,
    SIDES,
    Mark,
    Stack,
    as_text,
    compared,
    differences_in_words,
    height_in_words,
    parsed_stack,
    specified,
)
from benchstation.domain.inputs.stack import field_id
from benchstation.domain.rebuild import Rebuild
from benchstation.driver_api.errors import StationError
from benchstation.screens.model.elements import DiscView, FieldKind, FieldView, StackView, Tone


def stack_fields(session: BenchSession, rebuild: Rebuild, record: str) -> tuple[FieldView, ...]:
    """Return a field for the stack of each side, as found or as built."""
    fields = []
    for side in SIDES:
        name = field_id(record, side)
        text = session.work.typed.get(name, "")
        fields.append(
            FieldView(
                name,
                f"{side.capitalize()} stack {record}, from the piston, mm or with a unit",
                FieldKind.STACK,
                text,
                choices=_starts(session, rebuild, record, side),
                stack=stack_view(session, rebuild, record, side, text),
            )
        )
    return tuple(fields)


def _starts(
    session: BenchSession, rebuild: Rebuild, record: str, side: str
) -> tuple[tuple[str, str], ...]:
    """Return what an entry may start from; a person then changes what is different.

    A stack as found starts from nothing: what is filled in beforehand is not measured.
    """
    if record != AS_BUILT:
        return ()
    history = session.work.history
    # The specified one comes first: its key is the same whatever else is known.
    known: list[tuple[Stack, str]] = [
        (specified(rebuild.specification.stacks, side), "as specified"),
        (found_now(rebuild).get(side, ()), "as found"),
        (history.stacks.get(side, ()), f"as built {history.stacks_from}"),
    ]
    return tuple((as_text(stack), label) for stack, label in known if stack)


def stack_view(
    session: BenchSession, rebuild: Rebuild, record: str, side: str, text: str
) -> StackView:
    """Return the stack that a text says, laid beside the specification and the last rebuild."""
    specification = rebuild.specification
    asked = specified(specification.stacks, side)
    beside = tuple(DiscView(row.outer_m, row.thickness_m, row.count) for row in asked)
    hub = specification.stacks.hub if specification.stacks else 0.0
    widest = specification.geometry.bore
    try:
        stack = parsed_stack(text, side)
    except StationError as error:
        return StackView((), widest, hub, ((error.what, Tone.CAUTION),), beside)
    marks = [
        DiscView(row.now.outer_m, row.now.thickness_m, row.now.count, row.mark.value)
        for row in compared(asked, stack)
        if row.now is not None and row.mark is not Mark.REMOVED
    ]
    if not stack:
        said = (f"specified: {height_in_words(asked, session.display)}", Tone.QUIET)
        return StackView((), widest, hub, (said,), beside)
    lines = [(height_in_words(stack, session.display), Tone.PLAIN)]
    lines += _against("specification", asked, stack, record == AS_BUILT)
    before = session.work.history.stacks.get(side, ())
    if before:
        lines += _against(f"rebuild of {session.work.history.stacks_from}", before, stack, False)
    return StackView(tuple(marks), widest, hub, tuple(lines), beside)


def _against(what: str, was: Stack, now: Stack, must_agree: bool) -> list[tuple[str, Tone]]:
    differences = differences_in_words(was, now)
    if not differences:
        return [(f"as the {what}", Tone.NORMAL)]
    tone = Tone.CAUTION if must_agree else Tone.QUIET
    return [(f"against the {what}: {'; '.join(differences)}", tone)]
