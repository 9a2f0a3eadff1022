"""What may be done with a filed unit: released with its order, amended, shipped, taken back."""

from collections.abc import Mapping

from benchstation.bench.commands.shipping import specification_of
from benchstation.bench.sets import set_around, unfiled_of
from benchstation.domain.amending import AMENDERS, Field, fields_of
from benchstation.domain.disposition import (
    AT_CUSTOMER,
    RELEASED,
    RELEASES,
    Standing,
    meaning_of,
    plain_word,
)
from benchstation.domain.events import PersonEnrolled, UnitReturned
from benchstation.domain.inputs.limits import in_words
from benchstation.domain.releasing import TOGETHER
from benchstation.domain.shipping import UN_3164, figures_of
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.domain.unit_record import UnitRecord
from benchstation.physics.errors import RangeError
from benchstation.physics.shipping import NOTE, UN_ENTRY, Clause
from benchstation.physics.shipping import Standing as Clearing
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import Dimension, display_unit
from benchstation.reports.amended_words import EMPTY
from benchstation.reports.export import FiledRecord
from benchstation.screens.model.elements import (
    YOUR_PIN,
    ActionView,
    FieldKind,
    FieldView,
    TaskView,
)
from benchstation.store.chain_store import ChainStore
from benchstation.store.unit_rows import UnitRow
from benchstation.store.words_on_units import facts_on, signatures_for_release

SHIP, BACK, EXAMINE, TELL, AMEND = "ship", "take_returned", "examine", "tell_customer", "amend"
TOGETHER_ACT, SET_ACT = "release_together", "release_set"
SHEET, RULE = "data_sheet", "set_release_rule"
LEAVE = ActionView("leave", "Cancel", "Esc")
NO_CHOICE = ("", "choose")
LONGEST_SHOWN = 90


def dispositions(store: ChainStore, unit: UnitRow) -> tuple[ActionView, ...]:
    """Return what QA may say of a unit and of its whole order, and how many release in the shop."""
    words = (
        (RELEASED, "QA: release", "Ctrl+R"),
        ("held", "QA: hold", "Ctrl+H"),
        ("rejected", "QA: reject", "Ctrl+D"),
    )
    back = unit.standing == Standing.RETURNED
    # A unit that came back was said something of before; QA may say the same again.
    now = "" if back else plain_word(unit.disposition)
    gone = unit.standing == Standing.SUPERSEDED
    why = {now: f"it is {now} already", **({RELEASED: "it is superseded"} if gone else {})}
    one = tuple(
        ActionView(
            word,
            label,
            key,
            word not in why,
            why.get(word, ""),
            needs_reason=True,
            needs_pin=True,
            does="dispose",
            asks=f"it means “{meaning_of(word)}”. Why? A few words on record,",
        )
        for word, label, key in words
    )
    one = (*one, _rule(store))
    if not unit.order:
        return one
    bars = "" if unit.standing in TOGETHER else f"it is {unit.standing}"
    order = _together(TOGETHER_ACT, "QA: release order", "Ctrl+Y", f"units of {unit.order}", bars)
    members = set_around(store, unit.order, unit.unit_id)
    if not members:
        return (*one, order)
    missing = unfiled_of(members)
    bars = bars or (f"not all of its set are filed: {missing}" if missing else "")
    its_set = f"{len(members)} units of its set"
    return (*one, _together(SET_ACT, "QA: release set", "Ctrl+Shift+Y", its_set, bars), order)


def _together(act: str, label: str, key: str, units: str, why: str) -> ActionView:
    """Return a release of several units by one signature, or why it is not possible."""
    return ActionView(
        act,
        label,
        key,
        not why,
        why,
        needs_reason=True,
        needs_pin=True,
        does=act,
        asks=f"one signature for all filed {units}, of which you opened each: "
        f"“{meaning_of(RELEASED)}”. Why? A few words on record,",
    )


def _rule(store: ChainStore) -> ActionView:
    """Return the act that has another number of people release a unit."""
    two = signatures_for_release(store) > 1
    now, then = ("two people", "one person") if two else ("one person", "two people")
    return ActionView(
        "1" if two else "2",
        "One releases" if two else "Two release",
        "Ctrl+Shift+Q",
        needs_reason=True,
        needs_pin=True,
        does=RULE,
        asks=f"{now} of QA release a unit in this shop; from now on {then}. Why? A few words,",
    )


def acts_after(store: ChainStore, unit: UnitRow, filed: FiledRecord) -> tuple[ActionView, ...]:
    """Return what may be done with a unit where it is, beside QA's word.

    That it may not be shipped yet is said; what belongs to another place is left out.
    """
    standing = filed.disposition.standing
    out = standing in AT_CUSTOMER
    returned = any(isinstance(fact.event, UnitReturned) for fact in facts_on(store, unit.unit_id))
    no_ship = "" if standing in RELEASES else f"it is {standing}"
    found = [ActionView(SHIP, "Ship", "Ctrl+S", not no_ship, no_ship, does=SHIP)] * (not out)
    if filed.disposition.shipments:
        found.append(ActionView(SHEET, "Data sheet", "Ctrl+Shift+D"))
    if out or standing in RELEASES:
        found.append(ActionView(BACK, "Is back", "Ctrl+W", does=BACK))
    if returned and not out:
        found.append(ActionView(EXAMINE, "Note what was found", "Ctrl+Shift+F", does=EXAMINE))
    if unit.notice:
        found.append(ActionView(TELL, "Customer told", "Ctrl+Shift+T", does=TELL))
    return (*found, ActionView(AMEND, "Amend", "Ctrl+Shift+A", does=AMEND))


def forms_after(
    store: ChainStore, filed: FiledRecord, words: QuantityFormatter
) -> Mapping[str, TaskView]:
    """Return the form of each such act, filled in as far as the record says it."""
    record = filed.record
    events = [fact.event for fact in facts_on(store, record.unit_id)]
    fields = fields_of(record, events)
    return {
        SHIP: _ship(store, filed, words),
        BACK: _form(
            BACK,
            f"{filed.serial} is back",
            "It leaves again after another release by QA, or as a new rebuild of this serial.",
            FieldView("complaint", "Complaint, as the customer has it", FieldKind.TEXT),
            FieldView("found", "What was found, where it is known", FieldKind.TEXT),
            YOUR_PIN,
        ),
        EXAMINE: _form(
            EXAMINE,
            f"What was found in {filed.serial}",
            "It stands beside the complaint.",
            FieldView("found", "Found", FieldKind.TEXT),
        ),
        TELL: _form(
            TELL,
            f"The customer of {filed.serial} was told",
            "It takes the notice off what waits; the record stays as it is.",
            FieldView("how", "Who was told, and how", FieldKind.TEXT),
            YOUR_PIN,
        ),
        AMEND: _amend(store, filed, fields, words),
    }


def _form(name: str, title: str, instruction: str, *fields: FieldView) -> TaskView:
    sign = ActionView(name, "Put on record", "Return", primary=True, does=name)
    return TaskView(name, title, instruction, fields=fields, actions=(sign, LEAVE))


def _ship(store: ChainStore, filed: FiledRecord, words: QuantityFormatter) -> TaskView:
    unit = display_unit(Dimension.PRESSURE, words.system)
    return _form(
        SHIP,
        f"Ship {filed.serial}",
        NOTE,
        FieldView("customer", "Customer", FieldKind.TEXT),
        FieldView("address", "Address", FieldKind.LINES),
        FieldView("order", "Order", FieldKind.TEXT, value=filed.place[0]),
        FieldView("package", "Package", FieldKind.TEXT, hint="such as carton 2 of 4, 1A2"),
        FieldView(
            "clause",
            "Goes by",
            FieldKind.CHOICE,
            choices=(NO_CHOICE, *_clauses(store, filed.record, words)),
        ),
        FieldView("burst_pressure", f"Burst pressure of the body, {unit} gauge", FieldKind.TEXT,
                  hint="where the clause has one"),
        FieldView("test_pressure", f"Test pressure of the body, {unit} gauge", FieldKind.TEXT,
                  hint="where the clause has one"),
        FieldView(
            "declared",
            "On my word: the clause's conditions that no figure shows are met",
            FieldKind.CHECK,
        ),
        YOUR_PIN,
    )  # fmt: skip


def _clauses(
    store: ChainStore, record: UnitRecord, words: QuantityFormatter
) -> tuple[tuple[str, str], ...]:
    """Return the clauses that no figure rules out, then the entry with its number."""
    try:
        figures = figures_of(record, specification_of(store, record))
    except (NotAllowedError, RangeError):
        # The act itself says why.
        return ((UN_3164, UN_ENTRY),)
    charge = f"{words.gauge(figures.charge_20c_gauge_pa)} at {words.temperature(293.15)}"
    open_ones = [c for c in figures.clauses if c.standing is not Clearing.RULED_OUT]
    found = [(clause.id, f"{clause.rule}: {clause.scope}{_needs(clause)}") for clause in open_ones]
    return (*found, (UN_3164, f"{UN_ENTRY} ({charge})"))


def _needs(clause: Clause) -> str:
    missing = dict.fromkeys(c.what.partition(",")[0] for c in clause.missing)
    return f" (give the {' and '.join(missing)})" if missing else ""


def _amend(
    store: ChainStore, filed: FiledRecord, fields: Mapping[str, Field], words: QuantityFormatter
) -> TaskView:
    people = [p for p in store.people().values() if _may_approve(p)]
    shipped = filed.disposition.standing in AT_CUSTOMER
    return _form(
        AMEND,
        f"Amend {filed.serial}",
        "The record stays as it was filed, and both values stand on it from now on. A judged "
        "figure or lot puts the unit on hold. What was measured is no field here."
        + (" Its customer has this unit, and is to be told." if shipped else ""),
        FieldView(
            "field",
            "Field, and what stands there",
            FieldKind.CHOICE,
            choices=(NO_CHOICE, *((f.key, _as_it_stands(f, words)) for f in fields.values())),
        ),
        FieldView("new", "Is in truth", FieldKind.TEXT),
        FieldView("reason", "Reason", FieldKind.TEXT),
        FieldView(
            "approver",
            "Approved by",
            FieldKind.CHOICE,
            choices=(NO_CHOICE, *((p.person_id, p.name) for p in people)),
            hint="another person: a bench lead or QA",
        ),
        FieldView("pin", "That person's PIN", FieldKind.PIN),
        YOUR_PIN,
    )


def _may_approve(person: PersonEnrolled) -> bool:
    return any(role in {r.value for r in AMENDERS} for role in person.roles)


def _as_it_stands(field: Field, words: QuantityFormatter) -> str:
    stands = str(field.value).replace("\n", " / ") or EMPTY
    if field.dimension is not None:
        stands = in_words(float(field.value), field.dimension, words.system)
    return f"{field.title}: {stands}"[:LONGEST_SHOWN]
