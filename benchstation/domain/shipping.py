"""Shipping a charged unit and taking it back: the figures of its record, the clauses, the checks.

Which rule a shipment comes under is the shipper's to say, trained for it and by the rules in force
where it goes; here a clause that a figure rules out is refused, and nothing is ever cleared.
"""

from dataclasses import dataclass

from benchstation.domain.events import CustomerTold, ReturnExamined, UnitReturned, UnitShipped
from benchstation.domain.orders import LONGEST_NAME, text_problem
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.specification import Specification
from benchstation.domain.unit_record import UnitRecord
from benchstation.physics.gas_spring import ChargedDamper
from benchstation.physics.oil import Oil
from benchstation.physics.shipping import (
    UN_ENTRY,
    Clause,
    Condition,
    Quantity,
    ShippingFigures,
    Standing,
    shipping_figures,
)
from benchstation.quantities.notation import fixed, significant
from benchstation.quantities.units import Dimension, UnitSystem, shown

WHERE = "Records"
UN_3164 = "un_3164"
"""What is chosen where no clause is claimed: the entry with its number."""
LONGEST_CUSTOMER, LONGEST_ADDRESS, LONGEST_PACKAGE, LONGEST_WORDS = 120, 400, 200, 400


@dataclass(frozen=True, slots=True)
class Consignment:
    """Where a unit goes and how; ``clause`` is the id of one, or :data:`UN_3164`.

    ``declared``: the shipper says that the conditions which no figure shows are met. ``test`` and
    ``burst`` are the pressures that the body was tested to, Pa gauge, where they are known.
    """

    customer: str
    address: str
    order: str
    package: str
    clause: str
    declared: bool = False
    test_gauge_pa: float | None = None
    burst_gauge_pa: float | None = None


def unit_of(record: UnitRecord, specification: Specification) -> ChargedDamper:
    """Return the unit as its record has it: its own oil, and the nitrogen that was captured."""
    reference_k = specification.oil.reference_temperature
    lots = record.oil.lots
    volume = sum(lot.added_volume_ref_m3 for lot in lots)
    rho15 = specification.oil.typical_rho15
    if volume > 0:
        rho15 = sum(lot.rho15_kg_m3 * lot.added_volume_ref_m3 for lot in lots) / volume
    oil = Oil(rho15)
    return ChargedDamper(
        specification.geometry.model(),
        record.oil.net_volume_ref_m3,
        record.charge.amount_kg,
        oil.mean_expansion_per_k(reference_k, specification.limits.hot),
        reference_k,
        oil,
    )


def figures_of(
    record: UnitRecord,
    specification: Specification,
    test_gauge_pa: float | None = None,
    burst_gauge_pa: float | None = None,
) -> ShippingFigures:
    """Return the figures of a filed unit beside each clause, as ``calc ship`` gives them."""
    unit = unit_of(record, specification)
    return shipping_figures(unit, test_gauge_pa=test_gauge_pa, burst_gauge_pa=burst_gauge_pa)


def unit_mass_kg(record: UnitRecord) -> float | None:
    """Return what the charged unit weighed as shown, where it was weighed."""
    return record.gas_by_mass.after_shown_kg if record.gas_by_mass is not None else None


def clause_in(figures: ShippingFigures, name: str) -> Clause | None:
    """Return the clause of that name; ``None``: none is claimed."""
    return next((clause for clause in figures.clauses if clause.id == name), None)


def ship(
    unit_id: str, record: UnitRecord, figures: ShippingFigures, to: Consignment
) -> UnitShipped:
    """Return the shipment of a unit. The store refuses it for a unit that is not released."""
    customer, address = to.customer.strip(), to.address.strip()
    if not customer:
        raise _refused("the customer is missing.", "Say to whom it goes.", "customer")
    for name, text, longest in (
        ("customer", customer, LONGEST_CUSTOMER),
        ("address", address, LONGEST_ADDRESS),
        ("order", to.order.strip(), LONGEST_NAME),
        ("package", to.package.strip(), LONGEST_PACKAGE),
    ):
        wrong = next((p for line in text.splitlines() if (p := text_problem(line, longest))), "")
        if wrong or len(text) > longest:
            said = wrong or f"is longer than {longest} characters"
            raise _refused(f"the {name} {said}.", "Shorten it.", name)
    clause = _claimed(figures, to)
    return UnitShipped(
        unit_id,
        customer,
        address,
        to.order.strip(),
        to.package.strip(),
        to.clause,
        "" if clause is not None else UN_ENTRY,
        to.declared,
        figures.charge_20c_gauge_pa,
        figures.charge_70f_gauge_pa,
        figures.gas_volume_m3,
        figures.amount_kg,
        unit_mass_kg(record),
        to.test_gauge_pa,
        to.burst_gauge_pa,
    )


def _claimed(figures: ShippingFigures, to: Consignment) -> Clause | None:
    """Return the clause that is claimed; raise where its figures or the shipper's word lack."""
    clause = clause_in(figures, to.clause)
    if clause is None:
        if to.clause != UN_3164:
            raise _refused("the clause is missing.", "Choose what the shipment goes by.", "clause")
        return None
    if clause.standing is Standing.RULED_OUT:
        broken = ", ".join(condition.what for condition in clause.against)
        raise _refused(
            f"{clause.rule} is ruled out by the figures: {broken}.", "Choose another.", "clause"
        )
    if clause.standing is Standing.NOT_TOLD:
        missing = " and ".join(dict.fromkeys(c.what.partition(",")[0] for c in clause.missing))
        raise _refused(f"{clause.rule} needs the {missing} of the body.", "Type it.", "clause")
    if clause.to_show and not to.declared:
        raise _refused(
            f"{clause.rule} has conditions that no figure shows: {'; '.join(clause.to_show)}.",
            "Tick that they are met, on your word; else choose UN 3164.",
            "declared",
        )
    return clause


def condition_in_words(condition: Condition, system: UnitSystem) -> str:
    """Return what was found and what the clause wants of it."""

    def text(value: float) -> str:
        if condition.quantity is Quantity.ENERGY:
            return f"{fixed(value / 100.0, 2)} bar L"
        if condition.quantity is Quantity.VOLUME:
            return f"{significant(value * 1e3, 4)} L"
        return str(shown(value, Dimension.PRESSURE, system))

    found = "not given" if condition.found is None else text(condition.found)
    limits = (("at least", condition.least), ("at most", condition.most))
    wanted = " and ".join(f"{word} {text(limit)}" for word, limit in limits if limit is not None)
    return f"{found}; {wanted}"


def standing_in_words(clause: Clause, system: UnitSystem) -> str:
    """Return what the figures say about a clause."""
    if clause.standing is Standing.RULED_OUT:
        reasons = (f"{c.what}: {condition_in_words(c, system)}" for c in clause.against)
        return f"{clause.standing}; {'; '.join(reasons)}"
    if clause.standing is Standing.NOT_TOLD:
        missing = dict.fromkeys(c.what.partition(",")[0] for c in clause.missing)
        return f"{clause.standing}, not given: {' and '.join(missing)}"
    shown_first = ", once the conditions below are shown" if clause.to_show else ""
    return f"{clause.standing} by these figures{shown_first}: {clause.consequence}"


def take_back(unit_id: str, complaint: str, found: str = "") -> UnitReturned:
    """Return that a unit came back from its customer."""
    return UnitReturned(unit_id, _words(complaint, "complaint"), _may_be(found, "found"))


def examine(unit_id: str, found: str) -> ReturnExamined:
    """Return what was found in a unit that came back."""
    return ReturnExamined(unit_id, _words(found, "found"))


def tell(unit_id: str, how: str) -> CustomerTold:
    """Return that the customer was told what became of a unit's record."""
    return CustomerTold(unit_id, _words(how, "how"))


_CALLED = {"complaint": "complaint", "found": "finding", "how": "way it was told"}


def _words(text: str, name: str) -> str:
    if not text.strip():
        raise _refused(f"the {_CALLED[name]} is missing.", "Say it in a few words.", name)
    return _may_be(text, name)


def _may_be(text: str, name: str) -> str:
    said = " ".join(text.split())
    if wrong := text_problem(said, LONGEST_WORDS):
        raise _refused(f"the {_CALLED[name]} {wrong}.", "Shorten it.", name)
    return said


def _refused(what: str, advice: str, field: str = "") -> NotAllowedError:
    return NotAllowedError(what, where=WHERE, advice=advice, field=field)
