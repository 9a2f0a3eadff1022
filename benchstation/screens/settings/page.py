"""The page Settings: what the bench goes by, who changed what weighs on evidence, and the forms."""

from collections.abc import Mapping, Sequence
from typing import Any

from benchstation.bench.bench_settings import RATINGS, BenchSettings, Group, Item, items_of
from benchstation.bench.commands.bench_settings import (
    KEPT,
    LAMP_PART,
    LIGHTS,
    PART,
    RATING,
    UNUSED,
    ChangeSettings,
    rating_text,
    way_of,
)
from benchstation.bench.commands.table import COMMANDS
from benchstation.bench.session import barred
from benchstation.bench.shop import Shop
from benchstation.domain.events import BenchSettingChanged
from benchstation.domain.people import Person
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter, local_time
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.elements import (
    YOUR_PIN,
    ActionView,
    FieldKind,
    FieldView,
    TaskView,
    TermGroup,
    TermView,
    Tone,
    permitted,
)
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.store.chain_store import ChainStore
from benchstation.store.journal import Entry

CHANGE = "change_settings"
EMPTY_PARTS = 2
"""Lines for parts of the pressure path that are not there yet."""
MOST_PAST = 12
TITLES = {group: group.value[0].upper() + group.value[1:] for group in Group}
_LINE_WORDS = {
    UNUSED: "not used",
    "normal": "on while all is normal",
    "alarm": "on from a warning on",
    "flash": "flashes from a warning on",
}
_LIGHT_WORDS = {"lost": "when the guard is silent"}


def settings_rows(settings: BenchSettings, words: QuantityFormatter) -> Sequence[ListRow]:
    """Return the groups of settings, each with its values in a line."""
    return [_row(group, settings, words) for group in Group]


def open_settings(
    key: str,
    settings: BenchSettings,
    by: Person | None,
    words: QuantityFormatter,
    journal: ChainStore,
    shop: Shop,
) -> ListDetail:
    """Open a group of settings as ``by``, who is signed in, may change it."""
    if key not in list(Group):
        raise StationError("there is no such group of settings.", where="Settings")
    group = Group(key)
    change = ActionView(CHANGE, "Change", "Ctrl+E", primary=True)
    forms = {} if ChangeSettings.why_not(by) else {CHANGE: _form(group, settings, words.system)}
    return ListDetail(
        _row(group, settings, words),
        (_values(group, settings, words), *_past(group, journal, shop, words)),
        permitted((change,), barred(COMMANDS, by), by_id=True),
        forms,
        {"group": group.value},
    )


def _row(group: Group, settings: BenchSettings, words: QuantityFormatter) -> ListRow:
    terms = _values(group, settings, words).terms
    below = "; ".join(f"{term.label}: {term.value}" for term in terms[:2])
    signed = any(item.weighs for item in items_of(group))
    state = "signed" if signed else ""
    return ListRow(group.value, TITLES[group], (below,), state, Tone.QUIET)


def _values(group: Group, settings: BenchSettings, words: QuantityFormatter) -> TermGroup:
    terms = []
    for item in items_of(group):
        value = getattr(settings.now, item.name)
        if item.name == RATINGS:
            terms += _rating_terms(value, words)
        else:
            terms.append(TermView(item.title, _shown(item, value, words), item.says))
    if group is Group.OUTPUTS:
        lamp = settings.now.lamp.url if settings.now.lamp is not None else "none"
        terms.insert(0, TermView("Lamp", lamp, "follows the guard"))
    if group is Group.PLACE:
        terms.append(TermView("Folder of the records", str(settings.now.data_path)))
    return TermGroup("In force", tuple(terms))


def _rating_terms(ratings: Mapping[str, float], words: QuantityFormatter) -> list[TermView]:
    lowest = min(ratings.values(), default=None)
    return [
        TermView(part, words.gauge(pa), "the high limit" if pa == lowest else "", pa == lowest)
        for part, pa in sorted(ratings.items(), key=lambda rated: rated[1])
    ] or [TermView("Ratings", "none", "the guard has no limit of its own")]


def _shown(item: Item, value: Any, words: QuantityFormatter) -> str:
    if value is None or value == "":
        return "none"
    text = item.text(value, words.system)
    return dict(item.choices).get(text, text)


def _past(
    group: Group, journal: ChainStore, shop: Shop, words: QuantityFormatter
) -> tuple[TermGroup, ...]:
    """Return who changed what weighs on evidence, newest first."""
    items = {item.name: item for item in items_of(group) if item.weighs}
    if not items:
        return ()
    terms = [
        TermView(local_time(entry.utc), _change(items[entry.event.setting], entry, words), by)
        for entry in reversed(journal.entries(kind=BenchSettingChanged.kind))
        if isinstance(entry.event, BenchSettingChanged)
        and entry.event.setting in items
        and (by := _by(entry, shop))
    ]
    return (TermGroup("On record", tuple(terms[:MOST_PAST])),)


def _by(entry: Entry, shop: Shop) -> str:
    assert isinstance(entry.event, BenchSettingChanged)
    person = shop.people.get(entry.person)
    if person is None:
        return "found so at a start"
    return f"by {person.name}: {entry.event.reason}"


def _change(item: Item, entry: Entry, words: QuantityFormatter) -> str:
    assert isinstance(entry.event, BenchSettingChanged)
    before, after = entry.event.before, entry.event.after
    if isinstance(after, dict):
        return _ratings_change(before if isinstance(before, dict) else {}, after, words)
    was = "" if before is None else f", was {_shown(item, before, words)}"
    return f"{item.title}: {_shown(item, after, words)}{was}"


def _ratings_change(
    before: Mapping[str, float], after: Mapping[str, float], words: QuantityFormatter
) -> str:
    changed = [
        f"{part} {words.gauge(pa)}"
        + (f", was {words.gauge(before[part])}" if part in before else "")
        for part, pa in after.items()
        if before.get(part) != pa
    ]
    return "; ".join([*changed, *(f"{part} taken out" for part in before if part not in after)])


def _form(group: Group, settings: BenchSettings, system: UnitSystem) -> TaskView:
    fields = _lamp_fields(settings) if group is Group.OUTPUTS else []
    for item in items_of(group):
        if item.name == RATINGS:
            fields += _rating_fields(settings.now.path_ratings, system)
        else:
            fields.append(_field(item, getattr(settings.now, item.name), system))
    signed = any(item.weighs for item in items_of(group))
    if signed:
        fields += [
            FieldView("reason", "Reason", FieldKind.TEXT, hint="why it is changed"),
            YOUR_PIN,
        ]
    said = "A change here affects evidence: it takes a reason and your PIN."
    actions = (
        ActionView(CHANGE, "Save", "Return", primary=True),
        ActionView("leave", "Cancel", "Esc"),
    )
    return TaskView(
        CHANGE, TITLES[group], said if signed else "", fields=tuple(fields), actions=actions
    )


def _field(item: Item, value: Any, system: UnitSystem) -> FieldView:
    kind = FieldKind.TEXT if item.dimension is None else FieldKind.QUANTITY
    if item.choices:
        kind = FieldKind.CHOICE
    text = item.text(value, system)
    return FieldView(item.name, item.title, kind, text, item.says, item.choices)


def _rating_fields(ratings: Mapping[str, float], system: UnitSystem) -> list[FieldView]:
    known = [(part, rating_text(pa, system)) for part, pa in ratings.items()]
    fields = []
    for number, (part, rating) in enumerate([*known, *(("", ""),) * EMPTY_PARTS]):
        new = "" if part else "another part, such as a hose"
        fields += [
            FieldView(f"{PART}{number}", f"Part {number + 1}", FieldKind.TEXT, part, new),
            FieldView(f"{RATING}{number}", "Rating, gauge", FieldKind.QUANTITY, rating),
        ]
    return fields


def _lamp_fields(settings: BenchSettings) -> list[FieldView]:
    lamp = settings.now.lamp
    where = "a port name, or 'gauge' for the lines of the gauge's own port; empty for no lamp"
    fields = [
        FieldView(f"{LAMP_PART}url", "Lamp's port", FieldKind.TEXT, lamp.url if lamp else "", where)
    ]
    for name, title in (("rts", "Line RTS"), ("dtr", "Line DTR")):
        way = way_of(getattr(lamp, name) if lamp else None)
        ways = [*_LINE_WORDS.items(), *([(KEPT, "as in the settings file")] * (way == KEPT))]
        fields.append(
            FieldView(f"{LAMP_PART}{name}", title, FieldKind.CHOICE, way, choices=tuple(ways))
        )
    sent = lamp.text if lamp else None
    for light in LIGHTS:
        text = "" if sent is None else getattr(sent, light)
        written = text.encode("unicode_escape").decode("ascii")
        says = "only for a lamp that takes commands; the line's end as \\r\\n" * (
            light == LIGHTS[0]
        )
        title = f"Sent {_LIGHT_WORDS.get(light, f'when {light}')}"
        fields.append(FieldView(f"{LAMP_PART}{light}", title, FieldKind.TEXT, written, says))
    return fields
