"""Oil that may be where no mass holds it: what must be confirmed before the next tare.

A tare over it would hide it for good, so the next tare needs a person's word that it was undone.
The doubt and the word are facts of the unit and outlive a restart.
"""

from collections.abc import Mapping, Sequence

from benchstation.domain.events import Event, OilUnweighed, TareProven, UnweighedUndone
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Method, StepKind
from benchstation.domain.statement_words import UNDONE
from benchstation.domain.statements import Statement, Undone
from benchstation.domain.unit_commands import NotAllowedError, require_step


def emptied_field(number: int) -> str:
    """Return the name of the field that confirms a statement, counted from 1."""
    return f"emptied{number}"


def statements(doubts: Sequence[OilUnweighed]) -> tuple[Undone, ...]:
    """Return what a person must confirm, each once."""
    return tuple(dict.fromkeys(_statement(doubt) for doubt in doubts))


def _statement(doubt: OilUnweighed) -> Undone:
    """Tell oil too much in the unit from oil that is missing in it."""
    came_in = Purpose(doubt.purpose).adds is ((doubt.about_kg or 0.0) >= 0)
    return Undone.TAKEN_OUT if came_in else Undone.PUT_BACK


def confirmed(rebuild: Rebuild, fields: Mapping[str, str], person: str) -> UnweighedUndone | None:
    """Return what a person confirms before a tare; ``None`` where there is nothing to confirm.

    Raises :class:`NotAllowedError` while a statement is not confirmed.
    """
    asked = statements(rebuild.unweighed)
    if not asked:
        return None
    for number, statement in enumerate(asked, 1):
        if fields.get(emptied_field(number)) != "yes":
            raise NotAllowedError(
                f"not confirmed: {UNDONE[statement]}.",
                where="Tare",
                advice="Undo what was not weighed, confirm it, and tare then; nothing was tared.",
            )
    return UnweighedUndone(asked, tuple(doubt.reason for doubt in rebuild.unweighed), person)


def unseen(rebuild: Rebuild, tare: TareProven, reason: Statement) -> list[Event]:
    """Return the doubt after a time in which nobody saw the scale; by difference the unit tells."""
    weighs = rebuild.specification.step_of(StepKind.WEIGH).id == tare.step_id
    purpose = Purpose(tare.purpose or (Purpose.POUR if weighs else Purpose.BLEED))
    if purpose.adds and rebuild.method is Method.DIFFERENCE:
        return []
    return [OilUnweighed(rebuild.unit_id, tare.step_id, purpose.value, reason)]


def prove_tare(rebuild: Rebuild, proven: TareProven) -> list[Event]:
    """Record a proven tare; refused over oil that nobody has said to be undone."""
    step = require_step(rebuild, StepKind.WEIGH, StepKind.BLEED)
    said = proven.emptied.statements if proven.emptied else ()
    missing = [s for s in statements(rebuild.unweighed) if s not in said]
    if missing:
        raise NotAllowedError(
            f"the tare does not count, not confirmed: {UNDONE[missing[0]]}.",
            where=step.title,
            advice="Undo what was not weighed, confirm it, and tare again.",
        )
    return [proven]
