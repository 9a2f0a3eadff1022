"""A set-up of a bench that is founded already: each difference named, none of it done silently.

Who is on record keeps roles and PIN: those are changed by people, at the bench. A specification
comes as a draft, which a second person approves. All the rest a lead confirms and signs.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from benchstation.bench.bench_settings import (
    ITEMS,
    RATINGS,
    changed_between,
    on_record,
    plain_of,
    weighing_of,
)
from benchstation.bench.onboarding.set_up import new_facts
from benchstation.bench.staff import people_from
from benchstation.config.set_up import SetUpError
from benchstation.config.settings import Settings
from benchstation.domain import approval
from benchstation.domain.events import (
    BenchSettingChanged,
    BenchSetUpChanged,
    Event,
    InstrumentChecked,
    InstrumentRegistered,
    MaterialReceived,
    OilLotReceived,
    PersonEnrolled,
    SpecificationApproved,
)
from benchstation.domain.inputs.limits import spread_of
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.people import Person, Role
from benchstation.driver_api.errors import StationError
from benchstation.quantities.notation import fixed, significant
from benchstation.quantities.units import UnitSystem, display_unit, to_display
from benchstation.store.chain_store import ChainStore

STAYS = "roles and PIN stay as they are; they are changed on the People page"
QA_IS_THERE = "a QA role is given by QA."


class FoundedError(StationError):
    """A bench is founded: what changes it is signed by a lead."""


@dataclass(frozen=True, slots=True)
class SetUpPlan:
    """What a set-up would change on a founded bench, in words, and the facts of it."""

    changes: tuple[str, ...]
    notes: tuple[str, ...]
    """What of it stays as it is, and why."""
    facts: tuple[Event, ...]
    settings: Settings


def is_founded(store: ChainStore) -> bool:
    """Return True when people are on record: then one of them signs what changes."""
    return bool(store.people())


def plan_set_up(
    store: ChainStore, before: Settings, after: Settings, events: Sequence[Event]
) -> SetUpPlan:
    """Return what a set-up would change. Raises ``StationError`` for what no file may change."""
    people = people_from(store)
    notes: list[str] = []
    wanted: list[Event] = []
    for event in events:
        if isinstance(event, PersonEnrolled) and event.person_id in people:
            notes += _note(event, people[event.person_id])
        else:
            wanted.append(event)
    facts = new_facts(store, wanted)
    _refuse_qa(facts, people)
    # As on record, and as in the settings where the bench has not run since it was founded.
    recorded = on_record(store)
    known = {**before.model_dump(mode="json"), **recorded}
    changes = [*(_said(store, fact) for fact in facts), *_settings_said(known, after)]
    facts += changed_between({**weighing_of(before), **recorded}, weighing_of(after))
    return SetUpPlan(tuple(changes), tuple(notes), tuple(facts), after)


def put_on_record(
    store: ChainStore, plan: SetUpPlan, lead: Person, reason: str, utc: datetime
) -> int:
    """Put a plan on record as signed by a lead; gives how many facts that were."""
    if not reason.strip():
        raise FoundedError("no reason is given.", advice="Say why, in a few words.", field="reason")
    specifications = store.specifications()
    facts: list[Event] = []
    for fact in plan.facts:
        match fact:
            case SpecificationApproved():
                facts.append(approval.draft(fact.source, lead, specifications))
            case BenchSettingChanged():
                facts.append(replace(fact, reason=reason))
            case _:
                facts.append(fact)
    store.append([BenchSetUpChanged(reason), *facts], person=lead.person_id, utc=utc)
    return len(facts)


def _note(event: PersonEnrolled, known: Person) -> Iterator[str]:
    left = known.left and "has left and stays so"
    same = event.name == known.name and frozenset(map(Role, event.roles)) == known.roles
    yield f"{known.name}: {left or ('the PIN stays as it is' if same else STAYS)}"


def _refuse_qa(facts: Sequence[Event], people: Mapping[str, Person]) -> None:
    """Refuse a QA role where QA is there to give it."""
    there = any(p.has(Role.QA) and p.can_sign_in for p in people.values())
    for fact in facts:
        if there and isinstance(fact, PersonEnrolled) and Role.QA.value in fact.roles:
            raise SetUpError(
                QA_IS_THERE,
                where=fact.name,
                advice="Leave the role out here; QA confirms it on the People page.",
            )


def _said(store: ChainStore, fact: Event) -> str:
    """Return one fact in words, with what it takes the place of."""
    match fact:
        case PersonEnrolled():
            return f"new person {fact.name}: {', '.join(fact.roles)}"
        case InstrumentRegistered():
            old = store.instruments().get(fact.instrument_id)
            if old is None:
                return f"new {fact.role} {fact.instrument_id}: {_calibrated(fact)}"
            changed = f"{_calibrated(fact)}; until now {_calibrated(old)}"
            return f"{fact.role} {fact.instrument_id}: {changed}"
        case OilLotReceived():
            lot = store.lots().get(fact.lot)
            until_now = f"; until now {fixed(lot.rho15_kg_m3, 1)} kg/m³" if lot is not None else ""
            return f"oil lot {fact.lot}: {fixed(fact.rho15_kg_m3, 1)} kg/m³ at 15 °C{until_now}"
        case InstrumentChecked():
            return f"check of {fact.instrument_id}"
        case MaterialReceived():
            return f"{fact.material.sort} {fact.material.lot}: received"
        case SpecificationApproved():
            name = f"{fact.specification_id}, revision {fact.revision}"
            return f"specification {name}: as a draft, which a second person approves"
    return fact.kind


def _calibrated(one: InstrumentRegistered) -> str:
    return f"profile {one.profile_id}, serial {one.serial_number or 'none'}, " + (
        f"certificate {one.certificate} to {one.calibrated_until}, "
        f"gain {significant(one.gain, 6)}, offset {_offset(one)}"
        if one.certificate
        else "no certificate"
    )


def _offset(one: InstrumentRegistered) -> str:
    dimension = spread_of(InstrumentRole(one.role).dimension)
    unit = display_unit(dimension, UnitSystem.METRIC)
    return f"{significant(to_display(one.offset, dimension, UnitSystem.METRIC), 6)} {unit}"


def _settings_said(known: Mapping[str, Any], after: Settings) -> Iterator[str]:
    """Return each setting that differs from what is known, in words."""
    for name in type(after).model_fields:
        new = plain_of(after, name)
        old = known[name]
        if new != old:
            titles = [item.title for item in ITEMS if item.name == name]
            title = titles[0] if titles else name.replace("_", " ")
            yield f"{title}: {_worded(name, new)}; until now {_worded(name, old)}"


def _worded(name: str, value: Any) -> str:
    """Return a setting's plain value as it is typed."""
    if value in (None, [], {}, ""):
        return "none"
    if name == RATINGS:
        return ", ".join(f"{part} {significant(pa / 1e5, 6)} bar" for part, pa in value.items())
    if name == "instruments":
        return ", ".join(f"{i['id']} ({i['profile']} at {i['url']})" for i in value)
    for item in ITEMS:
        if item.name == name:
            return item.text(value, UnitSystem.METRIC)
    return str(value)
