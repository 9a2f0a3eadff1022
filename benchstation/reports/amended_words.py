"""What became of a filed unit, in words for paper and screen: amended, shipped, returned."""

from collections.abc import Mapping

from benchstation.domain.amending import Field, fields_of
from benchstation.domain.disposition import Amendment, Return, Shipment
from benchstation.domain.duties import NOT_INDEPENDENT
from benchstation.domain.events import UnitShipped
from benchstation.domain.inputs.limits import in_words
from benchstation.domain.unit_record import UnitRecord
from benchstation.physics.shipping import RULES
from benchstation.quantities.formatter import QuantityFormatter

EMPTY = "(empty)"


def amendable(record: UnitRecord, shipments: tuple[Shipment, ...]) -> Mapping[str, Field]:
    """Return the fields that an amendment may name."""
    return fields_of(record, [shipment.shipped for shipment in shipments])


def amendment_words(
    one: Amendment, fields: Mapping[str, Field], words: QuantityFormatter
) -> tuple[str, str, str]:
    """Return which field was amended, both values with the reason, and who approved it."""
    field = fields.get(one.field)
    old, new = (_value(value, field, words) for value in (one.old, one.new))
    judged = f"; judged {one.decision}" if one.decision else ""
    independent = "" if one.independent else f", {NOT_INDEPENDENT}"
    return (
        field.title if field is not None else one.field,
        f"{old} is amended to {new}{judged}: {one.reason}",
        f"{one.person}, approved by {one.approved_by}{independent}",
    )


def _value(value: str | float, field: Field | None, words: QuantityFormatter) -> str:
    if isinstance(value, str):
        return value or EMPTY
    if field is None or field.dimension is None:
        return str(value)
    return in_words(value, field.dimension, words.system)


def shipment_words(sent: UnitShipped) -> str:
    """Return to whom a unit was shipped, on which order and in which package, and by what rule."""
    order = f", order {sent.order}" if sent.order else ""
    package = f", package {sent.package}" if sent.package else ""
    return f"{sent.customer}{order}{package}, {sent.un or RULES.get(sent.clause, sent.clause)}"


def return_words(one: Return) -> str:
    """Return the complaint, and what was found."""
    return f"{one.complaint}; {f'found: {one.found}' if one.found else 'not examined yet'}"
