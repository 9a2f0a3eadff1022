"""Kits, parts, wrenches and check weights on the page Materials: rows, details and their form."""

from collections.abc import Mapping
from datetime import date

from benchstation.bench.shop import Shop
from benchstation.domain.events import MaterialClosed, MaterialReceived
from benchstation.domain.materials import Key, Material, Sort, Standing, key_of
from benchstation.domain.shop_chain import Subject
from benchstation.metrology.check_weights import CLASSES, permissible_error
from benchstation.quantities.formatter import QuantityFormatter, local_time
from benchstation.quantities.units import Dimension, display_unit
from benchstation.screens.model.elements import (
    ActionView,
    FieldKind,
    FieldView,
    TermGroup,
    TermView,
    Tone,
)
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.screens.model.materials import SHOW_UNITS
from benchstation.store.chain_store import ChainStore
from benchstation.store.errors import NotOnRecordError
from benchstation.store.queries import MOST_USED, use_of_materials

RECEIVE = ActionView("receive_material", "Receive kit, part, tool", "Ctrl+I")
_BETWEEN = "\n"
_TONES = {
    Standing.OPEN: Tone.NORMAL,
    Standing.USED_UP: Tone.QUIET,
    Standing.EXPIRED: Tone.CAUTION,
    Standing.OVERDUE: Tone.CAUTION,
}
SORTS = tuple((sort.value, sort.value) for sort in Sort)


def row_key(material: Material) -> str:
    """Return the key of a material's row; no lot or number holds a line's end."""
    return _BETWEEN.join((material.sort, material.number, material.lot))


def names_material(key: str) -> bool:
    """Return True for the key of a row of this kind."""
    return key.count(_BETWEEN) == 2


def material_rows(
    store: ChainStore, shop: Shop, today: date
) -> tuple[list[ListRow], list[ListRow]]:
    """Return what may be used, and what may not, each by sort, number and lot."""
    stock = shop.stock
    every = [material for sort in Sort for material in stock.of(sort)]
    there = [one.lot for one in every if stock.standing(one, today) is Standing.OPEN]
    # Of the others it is shown when one is opened: they grow with the years.
    used = use_of_materials(store, there)
    found: tuple[list[ListRow], list[ListRow]] = ([], [])
    for material in every:
        is_open = stock.standing(material, today) is Standing.OPEN
        found[not is_open].append(_row(material, shop, used, today))
    return found


def open_material(
    store: ChainStore, shop: Shop, key: str, words: QuantityFormatter, today: date
) -> ListDetail:
    """Open a material with what is on record of it."""
    sort, number, lot = key.split(_BETWEEN)
    material = shop.stock.find(Sort(sort), number, lot)
    if material is None:
        raise NotOnRecordError("nothing of this name is on record.", where="Materials")
    used = use_of_materials(store, [lot])
    units = used.get(material.key, 0)
    groups = (
        _about(material, words),
        TermGroup("Used", (TermView("Units with it", _count(units)),)),
        _on_record(store, material),
    )
    named = {"material_sort": sort, "material_number": number, "material_lot": material.lot}
    return ListDetail(
        _row(material, shop, used, today), groups, _actions(material, shop, today), {}, named
    )


def _count(units: int) -> str:
    return f"over {MOST_USED:,}" if units > MOST_USED else f"{units}"


def _row(material: Material, shop: Shop, used: Mapping[Key, int], today: date) -> ListRow:
    standing = shop.stock.standing(material, today)
    units = used.get(material.key, 0)
    what = f"{material.name}, {material.number}" if material.number else material.name
    below = (what, f"until {material.until}" if material.until else "")
    note = f"{_count(units)} unit{'' if units == 1 else 's'}"
    if not units:
        note = "not used yet" if standing is Standing.OPEN else ""
    return ListRow(
        row_key(material),
        material.lot,
        tuple(text for text in below if text),
        standing,
        _TONES.get(standing, Tone.DANGER),
        beside=material.sort,
        note=note if material.sort is not Sort.WEIGHT else "",
    )


def _about(material: Material, words: QuantityFormatter) -> TermGroup:
    until = "Calibrated until" if material.sort.calibrated else "Use until"
    terms = [
        TermView(material.sort.capitalize(), material.name, material.number, strong=True),
        TermView("Supplier or source", material.supplier),
        TermView("Received", material.received_on),
        TermView(until, material.until or "not stated"),
        TermView("Certificate", material.certificate or "-"),
    ]
    if material.nominal_kg is not None:
        error = permissible_error(material.nominal_kg, material.weight_class)
        terms[1:1] = [
            TermView("Nominal mass", words.mass(material.nominal_kg)),
            TermView(
                "Class",
                material.weight_class,
                f"permissible error ± {words.mass(error or 0.0, 4)} (OIML R 111-1)",
            ),
        ]
    return TermGroup(material.lot, tuple(terms))


def _on_record(store: ChainStore, material: Material) -> TermGroup:
    names = {key: person.name for key, person in store.people().items()}
    terms = []
    for fact in store.facts(Subject.MATERIAL):
        event = fact.event
        if isinstance(event, MaterialReceived) and event.material.key == material.key:
            terms.append((fact, "received at a unit" if event.at_unit else "received"))
        if (
            isinstance(event, MaterialClosed)
            and key_of(event.sort, event.number, event.lot) == material.key
        ):
            terms.append((fact, f"{event.why}: {event.reason}" if event.reason else event.why))
    return TermGroup(
        "On record",
        tuple(
            TermView(local_time(e.utc), said, f"by {names.get(e.person, e.person)}")
            for e, said in terms
        ),
    )


def _actions(material: Material, shop: Shop, today: date) -> tuple[ActionView, ...]:
    standing = shop.stock.standing(material, today)
    closed = standing in (Standing.WITHDRAWN, Standing.USED_UP)
    why, can = f"it is {standing}" if closed else "", not closed
    units = ActionView(SHOW_UNITS, "Records of its units", "Ctrl+R", primary=True)
    return (
        *((units,) if material.sort is not Sort.WEIGHT else ()),
        ActionView("use_up_material", "Close: used up", "Ctrl+E", can, why),
        ActionView(
            "withdraw_material",
            "Withdraw it",
            "Ctrl+Delete",
            can,
            why,
            needs_reason=True,
            needs_pin=True,
        ),
    )


def receive_fields(words: QuantityFormatter) -> tuple[FieldView, ...]:
    """Return the fields of the form that takes any of these in."""
    mass = display_unit(Dimension.MASS, words.system)
    classes = tuple((name, name) for name in CLASSES)
    return (
        FieldView("sort", "What it is", FieldKind.CHOICE, choices=SORTS),
        FieldView("number", "Number", FieldKind.TEXT, hint="of kit or part, as specified"),
        FieldView("lot", "Lot, or its id", FieldKind.TEXT, hint="as on bag or tool"),
        FieldView("name", "Name", FieldKind.TEXT, hint="such as Rod seal, 14 mm"),
        FieldView("supplier", "Supplier or source", FieldKind.TEXT),
        FieldView("until", "Use until, or calibrated until", FieldKind.TEXT, hint="2027-01-31"),
        FieldView("certificate", "Certificate", FieldKind.TEXT, hint="needed for wrench, weight"),
        FieldView("nominal", "Nominal mass of a weight", FieldKind.QUANTITY, hint=mass),
        FieldView("weight_class", "Class of a weight", FieldKind.CHOICE, choices=classes),
    )
