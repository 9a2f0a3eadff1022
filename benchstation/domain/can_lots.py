"""The lot of the can that oil is poured from: read off it at the weigh-in, not from the order."""

from benchstation.domain.events import Event, LotConfirmed
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.specification import Step, StepKind
from benchstation.domain.unit_commands import require_step


def unconfirmed(rebuild: Rebuild) -> tuple[str, ...]:
    """Return the lots that oil in the unit was poured from and that nobody read off the can."""
    poured = [m.oil_lot or rebuild.opened.oil_lot for m in rebuild.counting if _adds(m.purpose)]
    return tuple(dict.fromkeys(lot for lot in poured if lot not in rebuild.lots_confirmed))


def _adds(purpose: str) -> bool:
    return Purpose(purpose).adds


def confirm_lot(rebuild: Rebuild, scanned: str) -> list[Event]:
    """Put on record what the can says; refused when it is another lot than the one chosen."""
    step = require_step(rebuild, StepKind.WEIGH, StepKind.BLEED, StepKind.FILE)
    lot = scanned.strip()
    expected = _expected(rebuild, step)
    if lot not in expected:
        raise NotAllowedError(
            f"the can says '{lot}', and the lot that was chosen is {' or '.join(expected)}.",
            where=step.title,
            advice="Take the right can. Let oil of another lot out of the unit first.",
            field="lot",
        )
    return [LotConfirmed(rebuild.unit_id, step.id, lot)]


def may_become_right(rebuild: Rebuild, begun: str) -> bool:
    """Return True while what is typed is the beginning of a lot that is expected."""
    step = rebuild.current
    return step is not None and any(lot.startswith(begun) for lot in _expected(rebuild, step))


def _expected(rebuild: Rebuild, step: Step) -> tuple[str, ...]:
    lots = unconfirmed(rebuild) if step.kind is StepKind.FILE else (rebuild.oil_lot,)
    return tuple(lots)


def why_unconfirmed(rebuild: Rebuild) -> str:
    """Return the words for a can that was not read; empty: each was."""
    lots = unconfirmed(rebuild)
    return f"the can of {' and '.join(lots)} was not scanned" if lots else ""
