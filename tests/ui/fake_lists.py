"""People and materials of a bench that does not exist, as views."""

from datetime import UTC, datetime

from benchstation.bench.bench_settings import BenchSettings
from benchstation.bench.shop import Shop
from benchstation.config.settings import Settings
from benchstation.domain.events import BenchSettingChanged
from benchstation.domain.people import Person, Role
from benchstation.quantities.formatter import METRIC
from benchstation.screens.model.elements import (
    ActionView,
    FieldKind,
    FieldView,
    TaskView,
    TermGroup,
    TermView,
    Tone,
)
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.screens.model.materials import BOTTLE, SHOW_UNITS
from benchstation.screens.settings.page import open_settings, settings_rows
from benchstation.store.journal import Entry

PEOPLE = (
    ListRow(
        "p1",
        "Alex Sample",
        ("technician", "since 2026-01-12"),
        "PIN and badge",
        Tone.GOOD,
    ),
    ListRow(
        "p2",
        "Maximiliane Oberwiesenfelderhuber",
        ("technician and bench lead and QA", "since 2026-01-12"),
        "PIN",
        Tone.GOOD,
    ),
    ListRow("p3", "Robin Sample", ("QA", "since 2026-02-01"), "cannot sign in", Tone.CAUTION),
    ListRow("p4", "Kim Sample", ("technician", "since 2026-01-12"), "left", Tone.QUIET),
)
LEAVE = ActionView("leave", "Cancel", "Esc")
CHANGE_PIN = TaskView(
    "change_pin",
    "Change my PIN",
    "Six digits or more, neither all the same nor in counting order.",
    fields=(
        FieldView("old", "PIN until now", FieldKind.PIN),
        FieldView("pin", "New PIN", FieldKind.PIN),
        FieldView("pin_again", "The new PIN once more", FieldKind.PIN),
    ),
    actions=(ActionView("change_pin", "Change it", "Return", primary=True), LEAVE),
)
ENROL = TaskView(
    "enrol",
    "Enrol someone",
    "The new person types a PIN of six digits or more, twice.",
    fields=(
        FieldView("name", "Name", FieldKind.TEXT),
        FieldView("technician", "Technician: rebuilds units", FieldKind.CHECK, "yes"),
        FieldView("lead", "Bench lead: enrols people, receives oil", FieldKind.CHECK),
        FieldView("qa", "QA: releases, holds or rejects filed units", FieldKind.CHECK),
        FieldView("pin", "PIN", FieldKind.PIN),
        FieldView("pin_again", "The PIN once more", FieldKind.PIN),
    ),
    actions=(ActionView("enrol", "Enrol", "Return", primary=True), LEAVE),
)


def person(key: str) -> ListDetail:
    row = next(row for row in PEOPLE if row.key == key)
    return ListDetail(
        row,
        (
            TermGroup(
                "Signs in",
                (
                    TermView("Roles", row.below[0]),
                    TermView("PIN", "set", "kept as a salted slow hash"),
                    TermView("Badge", "registered"),
                ),
            ),
            TermGroup(
                "On record",
                (TermView("2026-01-12 08:03", "enrolled as technician", "by Robin Sample"),),
            ),
        ),
        (
            ActionView("change_pin", "Change my PIN", "Ctrl+P", primary=True),
            ActionView("register_badge", "Register my badge", "Ctrl+G"),
            ActionView("prefer", "My preferences", "Ctrl+K"),
            ActionView("enrol", "Enrol someone", "Ctrl+N"),
            ActionView("change_roles", "Change roles", "Ctrl+R"),
            ActionView(
                "take_off",
                "Mark as left",
                "Ctrl+Delete",
                key != "p2",
                "the last bench lead stays" if key == "p2" else "",
                needs_reason=True,
            ),
        ),
        {"change_pin": CHANGE_PIN, "enrol": ENROL},
        {"person": key},
    )


MATERIALS = (
    ListRow("L-0417", "L-0417", ("ISO VG 15 damper oil", "212 units, 46,8 kg"), "open", Tone.GOOD),
    ListRow(BOTTLE, "Nitrogen bottle", ("charges left in it",), "", Tone.QUIET),
    ListRow(
        "L-0388", "L-0388", ("Winter damper oil, synthetic", "8 units"), "withdrawn", Tone.DANGER
    ),
)
BOTTLE_FORM = TaskView(
    BOTTLE,
    "What a bottle still gives",
    "Counted by mass with nitrogen's real density.",
    fields=(
        FieldView("family", "Family", FieldKind.CHOICE, choices=(("f", "Rescue sledge, 46 mm"),)),
        FieldView("volume", "Size of the bottle", FieldKind.QUANTITY, hint="L"),
        FieldView("gauge", "Its gauge shows", FieldKind.QUANTITY, hint="bar"),
    ),
    actions=(ActionView(BOTTLE, "Calculate", "Return", primary=True), LEAVE),
)


def store(key: str) -> ListDetail:
    row = next(row for row in MATERIALS if row.key == key)
    actions = (
        ActionView(SHOW_UNITS, "Records of its units", "Ctrl+R", primary=True),
        ActionView("use_up", "Close: used up", "Ctrl+E"),
        ActionView("withdraw_lot", "Withdraw the lot", "Ctrl+Delete", needs_reason=True),
    )
    if key == BOTTLE:
        actions = (ActionView(BOTTLE, "Calculate a bottle", "Ctrl+B", primary=True),)
    groups = (TermGroup("Used", (TermView("Units opened with it", "212"),)),)
    return ListDetail(row, groups, actions, {BOTTLE: BOTTLE_FORM}, {"lot_open": key})


def worked_out() -> ListDetail:
    groups = (TermGroup("Rescue sledge, 46 mm", (TermView("Fills left", "856", strong=True),)),)
    opened = store(BOTTLE)
    return ListDetail(opened.row, groups, opened.actions, opened.forms, opened.fields)


DAY = (
    ListRow("air", "Air temperature", ("Read a thermometer at the bench.",), "done", Tone.GOOD),
    ListRow("barometer", "Barometer", ("Absolute, at this place.",), "open", Tone.CAUTION),
    ListRow(
        "bottle",
        "Nitrogen bottle",
        ("What its gauge shows.",),
        "put off",
        Tone.QUIET,
        note="later (Maximiliane Oberwiesenfelderhuber)",
    ),
)
BAROMETER_FORM = TaskView(
    "note_air",
    "Barometer",
    "Absolute, read at this place.",
    fields=(
        FieldView("barometer", "Barometer, absolute, at this place", FieldKind.QUANTITY),
        FieldView("barometer_on", "Read on", FieldKind.TEXT),
        FieldView("barometer_u", "Its uncertainty U", FieldKind.QUANTITY),
    ),
    actions=(ActionView("note_air", "Save", "Return", primary=True), LEAVE),
)


def day_line(key: str) -> ListDetail:
    row = next(row for row in DAY if row.key == key)
    actions = (
        ActionView("note_air", "Give what you read", "Ctrl+E", primary=True),
        ActionView("put_off", "Put off for today", "Ctrl+P", needs_reason=True),
    )
    groups = (TermGroup("Air", (TermView("Barometer", "1009 ± 20 hPa", "set-up, not read"),)),)
    return ListDetail(row, groups, actions, {"note_air": BAROMETER_FORM}, {"line": key})


_SETTINGS = BenchSettings(
    Settings(path_ratings={"Füllschlauch, Kupplungsseite": 35e5, "gauge": 40e5})
)


def settings() -> list[ListRow]:
    return list(settings_rows(_SETTINGS, METRIC))


def group_of_settings(key: str) -> ListDetail:
    lead = Person("p2", "Maximiliane Oberwiesenfelderhuber", frozenset((Role.LEAD,)))
    shop = Shop("shop", "bench-1", {"p2": lead}, {}, {}, {})
    changed = BenchSettingChanged(
        "path_ratings", {}, _SETTINGS.now.path_ratings, "neuer Füllschlauch"
    )
    when = datetime(2026, 3, 2, 8, 1, tzinfo=UTC)
    past = [Entry("bench-1", 7, when, "p2", changed.kind, changed, "", "")]
    return open_settings(key, _SETTINGS, lead, METRIC, Past(past), shop)


class Past:
    """A journal of entries that are given."""

    def __init__(self, entries: list[Entry]) -> None:
        self._entries = entries

    def entries(self, *, kind: str) -> list[Entry]:
        return [entry for entry in self._entries if entry.kind == kind]
