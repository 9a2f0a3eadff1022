"""The form of a calibration certificate: one for the page and for bringing an instrument in."""

from collections.abc import Mapping

from benchstation.bench import certificate_form as form
from benchstation.domain.inputs.limits import spread_of
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import display_unit
from benchstation.screens.instruments.role_words import u_such_as
from benchstation.screens.model.elements import FieldKind, FieldView

POINTS_HINT = (
    "a line each: true value, then what the instrument itself showed; up or down and u may follow. "
    "Such as: 100 100.02 up"
)


def certificate_fields(
    role: InstrumentRole, words: QuantityFormatter, typed: Mapping[str, str]
) -> tuple[FieldView, ...]:
    """Return the fields of a certificate with what was typed in them so far."""
    unit = form.unit_of(role, words.system)
    same = spread_of(role.dimension) is role.dimension
    own = unit if same else display_unit(spread_of(role.dimension), words.system)

    def text(name: str, label: str, hint: str = "", usual: str = "") -> FieldView:
        return FieldView(name, label, FieldKind.TEXT, typed.get(name, usual), hint)

    def lines(name: str, label: str, hint: str) -> FieldView:
        return FieldView(name, label, FieldKind.LINES, typed.get(name, ""), hint)

    return (
        text(form.CERTIFICATE, "Certificate number"),
        text(form.LABORATORY, "Laboratory"),
        text(form.ON, "Calibrated on", "such as 2026-03-02"),
        text(form.UNTIL, "In force until", "such as 2027-03-02"),
        text(form.LOW, "Range from", f"such as 0 {unit}"),
        text(form.HIGH, "Range to", "what was calibrated, no more"),
        lines(form.POINTS, "Points as left", POINTS_HINT),
        text(form.UNIT, "Unit of the points", usual=unit),
        text(form.U_REFERENCE, "u of the true values (k = 1)", f"in {own}; half of U (k = 2)"),
        text(form.GAIN, "or, without points: gain", "true value = gain × reading + offset"),
        text(form.OFFSET, "and offset", f"such as 0 {own}"),
        text(form.U, "and standard uncertainty (k = 1)", u_such_as(role, words.system)),
        FieldView(
            form.ADJUSTED,
            "The laboratory adjusted it: as found differs from as left",
            FieldKind.CHECK,
            typed.get(form.ADJUSTED, ""),
        ),
        lines(form.FOUND_POINTS, "Points as found, before the adjustment", "in the same unit"),
        text(form.FOUND_GAIN, "or gain as found", "empty: as found is not known"),
        text(form.FOUND_OFFSET, "and offset as found"),
    )
