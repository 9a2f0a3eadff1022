"""Amending a filed record: which fields may be amended, what stands there, and the checks. Pure.

Amended is what somebody typed: names, notes, typed figures, lots. What an instrument gave, what a
trace proves and what was judged from these is no typing error: such a unit is held, rejected or
rebuilt. A choice and a tick stand for an act at the bench and are no fields either.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from benchstation.domain.disposition import ALONE
from benchstation.domain.events import Event, UnitAmended, UnitShipped
from benchstation.domain.inputs.limits import Limits, require_possible
from benchstation.domain.inputs.line import Noted
from benchstation.domain.inputs.material import MaterialTaken
from benchstation.domain.inputs.part import LONGEST_LOT, PartFitted
from benchstation.domain.inputs.quantity import Measured, Source
from benchstation.domain.inputs.registry import Result
from benchstation.domain.inputs.text import LONGEST_TEXT, Written
from benchstation.domain.inputs.torque import Tightened
from benchstation.domain.materials import Sort
from benchstation.domain.orders import LONGEST_NAME, text_problem
from benchstation.domain.people import Person, Role
from benchstation.domain.serials import serial_problem
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.domain.unit_record import UnitRecord
from benchstation.quantities.units import Dimension, UnitSystem, display_unit, parse

WHERE = "Records"
SERIAL, ORDER, POSITION, CUSTOMER, ADDRESS = "serial", "order", "position", "customer", "address"
AMENDERS = frozenset((Role.LEAD, Role.QA))
PASS, FAIL = "pass", "fail"
LONGEST_LINE = 200
TOOL = "tool"
BETWEEN = "/"
"""Between step, input and part of it in the name of a field."""
Value = str | float


@dataclass(frozen=True, slots=True)
class Field:
    """One field that may be amended, with what stands there now: text or SI.

    ``limits`` are those that a typed figure was judged by; ``sort`` and ``number`` say of what a
    lot is. Such a field is a judged one: amended, it puts the unit on hold.
    """

    key: str
    title: str
    value: Value
    dimension: Dimension | None = None
    limits: Limits | None = None
    sort: Sort | None = None
    number: str = ""
    longest: int = LONGEST_LINE

    @property
    def judged(self) -> bool:
        """Return True when the record's verdict rests on it."""
        return self.limits is not None or self.sort is not None


def fields_of(record: UnitRecord, events: Iterable[Event] = ()) -> dict[str, Field]:
    """Return what may be amended, by name, as it stands after what is in force about the unit."""
    found = [
        Field(SERIAL, "Serial", record.serial),
        Field(ORDER, "Order", record.order, longest=LONGEST_NAME),
        Field(POSITION, "Position", record.position, longest=LONGEST_NAME),
    ]
    for step in record.steps:
        for result in step.evidence:
            found += _fields_in(step.id, step.title, result)
    fields = {field.key: field for field in found}
    for event in events:
        if isinstance(event, UnitShipped):
            fields[CUSTOMER] = Field(CUSTOMER, "Customer", event.customer)
            fields[ADDRESS] = Field(ADDRESS, "Address", event.address)
        elif isinstance(event, UnitAmended) and event.field in fields:
            fields[event.field] = replace(fields[event.field], value=event.new)
    return fields


def shipments_in(events: Iterable[Event]) -> list[UnitShipped]:
    """Return each shipment of a unit, its customer and address as they were amended since."""
    found: list[UnitShipped] = []
    for event in events:
        if isinstance(event, UnitShipped):
            found.append(event)
        elif isinstance(event, UnitAmended) and found:
            if event.field == CUSTOMER:
                found[-1] = replace(found[-1], customer=str(event.new))
            elif event.field == ADDRESS:
                found[-1] = replace(found[-1], address=str(event.new))
    return found


def current_value(record: UnitRecord, events: Sequence[Event], key: str) -> Value | None:
    """Return what stands in a field now; ``None``: it cannot be amended."""
    field = fields_of(record, events).get(key)
    return field.value if field is not None else None


def title_of(record: UnitRecord, key: str) -> str:
    """Return how a field is called."""
    known = {CUSTOMER: "Customer", ADDRESS: "Address"}
    field = fields_of(record).get(key)
    return field.title if field is not None else known.get(key, key)


def _fields_in(step_id: str, title: str, result: Result) -> list[Field]:
    key = BETWEEN.join((step_id, getattr(result, "input", "")))
    said = f"{title}: {getattr(result, 'label', '')}"
    match result:
        case Noted():
            return [Field(key, said, result.text)]
        case Written():
            return [Field(key, said, result.text, longest=LONGEST_TEXT)]
        case Measured() if result.source == Source.TYPED and result.reading is None:
            of = Dimension(result.dimension)
            return [Field(key, said, result.value, of, result.limits)]
        case Tightened():
            torque = Field(key, said, result.torque_n_m, Dimension.TORQUE, result.limits)
            if not result.tool:
                return [torque]
            tool = BETWEEN.join((key, TOOL))
            return [torque, Field(tool, f"{said}, wrench", result.tool, sort=Sort.WRENCH)]
        case PartFitted() if result.lot:
            lot = Field(key, f"{said}, lot", result.lot, sort=Sort.PART, number=result.number)
            return [replace(lot, longest=LONGEST_LOT)]
        case MaterialTaken():
            of_lot = Field(key, f"{said}, lot", result.lot, sort=result.sort, number=result.number)
            return [replace(of_lot, longest=LONGEST_LOT)]
        case _:
            return []


def value_in(field: Field, typed: str, units: UnitSystem) -> Value:
    """Return what was typed for a field. Raises :class:`NotAllowedError` for what cannot be so."""
    if field.dimension is not None:
        value = parse(typed, field.dimension, default_unit=display_unit(field.dimension, units))
        require_possible(value, field.dimension, units)
        return value
    text = typed.strip()
    lines = text.splitlines() or [""]
    problem = next((p for line in lines if (p := text_problem(line, field.longest))), "")
    if len(text) > field.longest:
        problem = f"is longer than {field.longest} characters"
    if field.key == SERIAL:
        problem = "is missing" if not text else serial_problem(text)
    elif field.key == CUSTOMER and not text:
        problem = "is missing"
    if problem:
        raise _refused(f"the new value {problem}.", "Type it again; nothing was changed.")
    return text


def amend(
    unit_id: str,
    field: Field,
    new: Value,
    reason: str,
    person: Person,
    approver: Person,
    *,
    lot_in_order: bool = True,
) -> UnitAmended:
    """Return an amendment by one person, approved by another; the same where nobody else could.

    ``lot_in_order`` says whether a new lot or wrench is on record and could be used. A judged field
    is judged anew with the new value, and its unit is held whatever comes of it.
    """
    if not person.has(*AMENDERS) or not approver.has(*AMENDERS):
        raise _refused("a record is amended and approved by a bench lead or QA.")
    if not (person.has(Role.QA) or approver.has(Role.QA)):
        raise _refused("one of the two must be QA.", "Have QA sign with you.")
    if not reason.strip():
        raise _refused("an amendment needs a reason.", "Say why in a few words.")
    if new == field.value:
        raise _refused("this stands in the record already.", "Nothing was changed.")
    alone = person.person_id == approver.person_id
    approved = f"{approver.person_id}{ALONE if alone else ''}"
    decision = _judged(field, new, lot_in_order=lot_in_order)
    return UnitAmended(unit_id, field.key, field.value, new, reason.strip(), approved, decision)


def _judged(field: Field, new: Value, *, lot_in_order: bool) -> str:
    if field.limits is not None:
        return PASS if field.limits.holds(float(new)) else FAIL
    if field.sort is not None:
        return PASS if lot_in_order and new else FAIL
    return ""


def _refused(what: str, advice: str = "Nothing was changed.") -> NotAllowedError:
    return NotAllowedError(what, where=WHERE, advice=advice)
