"""What a record says of its set, of hand-overs and of times aside, as (what, value, source)."""

from collections.abc import Callable, Iterator

from benchstation.domain.duties import NOT_INDEPENDENT
from benchstation.domain.matching import CHARGE, OIL, charge_at_reference, share_at_reference
from benchstation.domain.statement_words import GAS, UNDONE, worded
from benchstation.domain.unit_record import (
    RecordedCharge,
    RecordedCheck,
    RecordedOil,
    RecordedSpecification,
    UnitRecord,
)
from benchstation.domain.virtual_words import no_device_words
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import percent
from benchstation.reports.condition_words import condition_lines

Line = tuple[str, str, str]


def figure(what: str, value: float, words: QuantityFormatter) -> str:
    """Return a figure of a set, or the difference of two, as text."""
    if what == OIL:
        return words.volume(value)
    return words.pressure(value, 3) if what == CHARGE else words.force(value)


def virtual_words(record: UnitRecord) -> str:
    """Return what no instrument measured, in one line; empty: instruments measured it all."""
    found = [f"{i.title}: {no_device_words(i.virtual)}" for i in record.instruments if i.virtual]
    return f"Measured by no instrument. {'; '.join(found)}." if found else ""


def approved_words(specification: RecordedSpecification) -> str:
    """Return who approved a unit's specification; empty where its record does not say it."""
    if not specification.approved_by:
        return ""
    if not specification.independent:
        return f"written and approved by {specification.approved_by}: {NOT_INDEPENDENT}"
    return f"approved by {specification.approved_by}"


def judged_net(oil: RecordedOil, words: QuantityFormatter) -> str:
    """Return the net oil with its uncertainty."""
    return words.judged_mass(oil.net_shown_kg, oil.expanded_kg, oil.coverage_factor)


def judged_charge(charge: RecordedCharge, words: QuantityFormatter) -> str:
    """Return the settled charge with its uncertainty."""
    settled, expanded = charge.settled_gauge_pa, charge.expanded_pa
    return words.judged_gauge(settled, expanded, charge.coverage_factor)


def settled_at(charge: RecordedCharge, words: QuantityFormatter) -> str:
    """Return under what name the settled charge stands: with the unit's temperature then."""
    return f"Settled, unit at {words.temperature(charge.bench_k)}"


def reference_charge(charge: RecordedCharge, words: QuantityFormatter) -> Line:
    """Return the charge at the specification's reference temperature: name, value with U, value.

    Label, certificate and records say it from here, so that they agree.
    """
    gauge_pa, expanded = charge_at_reference(charge), charge.expanded_pa
    expanded *= share_at_reference(charge)
    judged = words.judged_gauge(gauge_pa, expanded, charge.coverage_factor)
    name = f"Charge at {words.temperature(charge.terms.reference_k)}"
    return name, judged, words.gauge(gauge_pa)


def air_lines(
    charge: RecordedCharge, words: QuantityFormatter, when: Callable[[str], str]
) -> list[Line]:
    """Return air and unit as a charge was judged; of a record of before, what it kept of them."""
    if charge.conditions:
        return condition_lines(charge.conditions, words, when)
    return [
        ("Unit temperature", words.temperature(charge.bench_k), "of the settings"),
        ("Barometer", words.barometer(charge.ambient_pa), "of the settings"),
    ]


def decision_in_words(judged: RecordedOil | RecordedCharge) -> str:
    """Return a judgement with its probability, which no measurement makes a hundred percent."""
    probability = min(float(judged.probability), 0.9999)
    over = "over " if probability < judged.probability else ""
    return f"{judged.decision}; conforms with {over}{percent(probability, 2)} probability"


def set_lines(record: UnitRecord, words: QuantityFormatter) -> Iterator[Line]:
    """Return the set as it stood at filing; nothing when the unit belongs to none."""
    matched = record.set
    if matched is None:
        return
    for spread in matched.spreads:
        what, limit = spread.what, spread.tolerance
        allowed = f", allowed {figure(what, limit, words)}" if limit is not None else ""
        value = f"units differ by {figure(what, spread.spread, words)}"
        source = f"± {figure(what, 2 * spread.u, words)} (k = 2){allowed}"
        yield f"Set, {what}", f"{value}, {spread.decision or 'not judged'}", source
    for member in matched.members:
        values = [figure(what, value, words) for what, value in member.figures.items()]
        name = member.serial or "not scanned yet"
        place = f" {member.position}" if member.position else ""
        yield (
            f"{name}{place}",
            ", ".join(values) or "–",
            f"{member.state}, order {matched.order}",
        )


def emptied_lines(record: UnitRecord, when: Callable[[str], str]) -> Iterator[Line]:
    """Return who confirmed before a tare that oil which was not weighed was undone."""
    for word in record.oil.emptied:
        reasons = "; ".join(worded(reason) for reason in word.reasons)
        source = f"{word.confirmed_by}, {when(word.utc)}: {reasons}"
        yield "Before a tare", "; ".join(UNDONE[u] for u in word.statements), source


def left_lines(record: UnitRecord, when: Callable[[str], str]) -> Iterator[Line]:
    """Return hand-overs, times aside, and who had the unit when."""
    for given in record.hand_overs:
        read = f", read by {given.read_by}, {when(given.read_utc)}" if given.read_by else ""
        yield "Handed over", given.note, f"{given.person}, {when(given.utc)}{read}"
    for aside in record.asides:
        back = f"fetched by {aside.fetched_by}, {when(aside.fetched_utc)}"
        source = f"gas {GAS[aside.gas]}; {aside.person}, {when(aside.utc)}; {back}"
        what = "Waited for its second reading" if aside.until else "Set aside"
        yield what, aside.reason or f"due {when(aside.until)}", source
    for changed in record.recalibrated:
        names = f"{changed.before or 'none'} to {changed.after}"
        source = f"{changed.person}, {when(changed.utc)}; captures before it keep theirs"
        yield f"Calibration of {changed.instrument_id}", names, source
    for shift in record.worked:
        yield "Worked on the unit", shift.name, f"{when(shift.since)} to {when(shift.until)}"


def checked_line(check: RecordedCheck | None, when: Callable[[str], str]) -> str:
    """Return what the newest check of an instrument found at filing."""
    if check is None:
        return "not checked"
    what = f"{check.check} {check.weight}".rstrip()
    return f"{what} {'passed' if check.passed else 'FAILED'}, {when(check.utc)}"
