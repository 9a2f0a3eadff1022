"""What the forms of steps have in common."""

from benchstation.bench.locks import unsafe_pressure_pa
from benchstation.bench.session import BenchSession
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.screens.model.elements import ActionView, FieldKind, FieldView, Tone


def pressure_lines(session: BenchSession, words: QuantityFormatter) -> tuple[tuple[str, Tone], ...]:
    """Warn of pressure where the gas must be out."""
    pressure = unsafe_pressure_pa(session)
    if pressure is None:
        return ()
    said = f"the gauge shows {words.gauge(pressure)}: do not open the unit, go back to the release"
    return ((said, Tone.DANGER),)


def sign_action(
    enabled: bool = True, why_not: str = "", label: str = "Sign this step"
) -> ActionView:
    """Return the action that signs the step."""
    return ActionView("sign", label, "Return", enabled, why_not, primary=True)


def text_field(
    session: BenchSession,
    field_id: str,
    label: str,
    kind: FieldKind = FieldKind.TEXT,
    *,
    hint: str = "",
    choices: tuple[tuple[str, str], ...] = (),
) -> FieldView:
    """Return a field with what was typed into it before, if it was sent."""
    return FieldView(field_id, label, kind, session.work.typed.get(field_id, ""), hint, choices)
