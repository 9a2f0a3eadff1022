"""The bench's settings while it runs: what each is called, what weighs on evidence, who was told.

Those that weigh on evidence are facts on record: a change is signed with a reason, and a file that
was changed while the program did not run is found at its next start.
"""

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from benchstation.config.settings import InstrumentSettings, Settings, own_profiles
from benchstation.devices.profile import profile_text
from benchstation.domain.events import BenchSettingChanged, Event
from benchstation.driver_api.errors import StationError
from benchstation.quantities.notation import significant
from benchstation.quantities.units import Dimension, UnitSystem, display_unit, parse
from benchstation.store.chain_store import ChainStore

RATINGS = "path_ratings"


class Group(StrEnum):
    """What is set together."""

    PATH = "pressure path"
    AIR = "air"
    CHECKS = "checks"
    PEOPLE = "people at the bench"
    PLACE = "shop and folders"
    OUTPUTS = "lamp and feed"
    WINDOW = "window"


@dataclass(frozen=True, slots=True)
class Item:
    """One setting: its name in the file, what it is called, and what weighs on evidence."""

    name: str
    title: str
    group: Group
    says: str = ""
    """What it does, in one line."""
    dimension: Dimension | None = None
    units: tuple[str, str] = ("", "")
    """Metric and inch-pound, where the dimension's usual ones do not suit."""
    choices: tuple[tuple[str, str], ...] = ()
    """Pairs of (text of the value, text shown); empty: it is typed."""
    weighs: bool = False
    """Whether it weighs on evidence: signed with a reason, and on record."""
    at_next_start: bool = False
    listed: bool = False
    """Whether it is several names in their order, with commas between them."""

    def unit(self, system: UnitSystem) -> str:
        """Return the unit in which it is shown, and in which a bare number is meant."""
        assert self.dimension is not None
        own = self.units[list(UnitSystem).index(system)]
        return own or display_unit(self.dimension, system)

    def text(self, value: Any, system: UnitSystem) -> str:
        """Return a value as it is typed and shown; empty where it is not set."""
        if value is None:
            return ""
        if self.listed:
            return ", ".join(value)
        if self.choices:
            return json.dumps(value) if isinstance(value, bool) else str(value)
        if self.dimension is None:
            return str(value)
        unit = self.unit(system)
        return f"{significant(value / parse(f'1 {unit}', self.dimension), 6)} {unit}"


ON_OFF = (("true", "on"), ("false", "off"))
ITEMS = (
    Item(RATINGS, "Ratings", Group.PATH, "the lowest is the high limit", weighs=True),
    Item(
        "path_gauges",
        "Gauges in the path",
        Group.PATH,
        "by their names in the records, that in the fill line first; the guard judges each",
        weighs=True,
        listed=True,
    ),
    Item(
        "fill_tool_volume_m3",
        "Volume of the fill tool",
        Group.PATH,
        "hose, gauge and valve body: takes its share of the gas",
        Dimension.VOLUME,
        weighs=True,
    ),
    Item(
        "altitude_m",
        "Altitude",
        Group.AIR,
        "used where no barometer is read and none is typed",
        Dimension.LENGTH,
        ("m", "ft"),
        weighs=True,
    ),
    Item(
        "air_holds_s",
        "Air temperature counts for",
        Group.AIR,
        "then it is read again before a charge or hold is captured",
        Dimension.TIME,
        ("h", "h"),
        weighs=True,
    ),
    Item(
        "barometer_holds_s",
        "Barometer counts for",
        Group.AIR,
        "then it is read again before a charge or hold is captured",
        Dimension.TIME,
        ("h", "h"),
        weighs=True,
    ),
    Item(
        "room_change_k",
        "Room changes in an hour",
        Group.AIR,
        "at most: an older figure is less certain",
        Dimension.TEMPERATURE_DIFFERENCE,
        weighs=True,
    ),
    Item(
        "daily_check",
        "Check each day",
        Group.CHECKS,
        "nothing is captured with an instrument before its check of the day",
        choices=(
            ("true", "scales"),
            ("scales and gauges", "scales and gauges"),
            ("false", "nothing"),
        ),
        weighs=True,
    ),
    Item(
        "start_of_day",
        "Start of the day",
        Group.CHECKS,
        "who signs in sees what is still to be done today",
        choices=ON_OFF,
    ),
    Item(
        "sign_out_after_s",
        "Signed out after",
        Group.PEOPLE,
        "without key, click or scan; 0 for never",
        Dimension.TIME,
        weighs=True,
    ),
    Item(
        "second_signature_after_s",
        "Second signature after",
        Group.PEOPLE,
        "where one person alone signs twice what takes two; 1 min to 24 h",
        Dimension.TIME,
        weighs=True,
    ),
    Item("shop", "Name of the shop", Group.PLACE, "stands on screen and papers"),
    Item(
        "photo_folder",
        "Folder of pictures",
        Group.PLACE,
        "where a camera or phone drops them; a full path",
    ),
    Item(
        "backup_folder",
        "Copies of the records",
        Group.PLACE,
        "a folder on another disk, a full path: a copy goes there with each filing",
        at_next_start=True,
    ),
    Item(
        "feed_port",
        "Port of the feed",
        Group.OUTPUTS,
        "other programs on this machine may read there; empty for none",
        at_next_start=True,
    ),
    Item(
        "unit_system",
        "Units",
        Group.WINDOW,
        choices=tuple((u.value, u.value) for u in UnitSystem),
        at_next_start=True,
    ),
    Item(
        "theme",
        "Theme",
        Group.WINDOW,
        choices=(("dark", "dark"), ("light", "light")),
        at_next_start=True,
    ),
    Item(
        "text_scale",
        "Text size",
        Group.WINDOW,
        choices=tuple((str(n), f"{n} %") for n in (100, 115, 130, 150)),
        at_next_start=True,
    ),
    Item(
        "pedal_key",
        "Key of the pedal",
        Group.WINDOW,
        "such as F13; empty for none",
        at_next_start=True,
    ),
)
LAMP = "lamp"
"""Made of several fields, in the group of outputs."""


def items_of(group: Group) -> tuple[Item, ...]:
    """Return the settings of a group."""
    return tuple(item for item in ITEMS if item.group is group)


WEIGHING = tuple(item for item in ITEMS if item.weighs)


def plain_of(settings: Settings, name: str) -> Any:
    """Return a setting as the file has it."""
    return settings.model_dump(mode="json", include={name})[name]


@dataclass(slots=True)
class BenchSettings:
    """The settings in force, and where they are written."""

    now: Settings
    save: Callable[[Settings], None] = lambda settings: None

    def put_in_place(self, changed: Settings) -> None:
        """Write settings and take them into use; raises, and the old ones stay."""
        self.save(changed)
        self.now = changed

    def keep_instrument(self, instrument: InstrumentSettings, instead_of: str) -> None:
        """Put an instrument in place of the one of that id, or beside the others."""
        self.put_in_place(self.now.with_instrument(instrument, instead_of))

    def differences(self, changed: Settings) -> tuple[BenchSettingChanged, ...]:
        """Return what differs and weighs on evidence, without a reason."""
        return changed_between(weighing_of(self.now), weighing_of(changed))


FILE_ONLY = ("barometer_pa", "bench_temperature_k", "alarm_again_rise", "alarm_again_after_s")
"""What weighs on evidence and is changed in the settings file alone."""
INSTRUMENT = "instrument:"
"""Before the id of an instrument: role, profile, the profile's SHA-256, port, serial and use."""


def weighing_of(settings: Settings) -> dict[str, Any]:
    """Return all that weighs on evidence, as plain data by its name on record."""
    names = (*(item.name for item in WEIGHING), *FILE_ONLY)
    plain = settings.model_dump(mode="json", include=set(names))
    return {name: plain[name] for name in names} | {
        f"{INSTRUMENT}{i.id}": [
            *(str(i.role), i.profile, _profile_sha256(i.profile)),
            *(i.url, i.serial, i.use),
        ]
        for i in settings.instruments
    }


def _profile_sha256(profile_id: str) -> str:
    """Return the hash of a profile's text; empty where there is none that can be read."""
    try:
        return hashlib.sha256(profile_text(profile_id, [own_profiles()]).encode()).hexdigest()
    except StationError:
        return ""


def changed_between(
    known: Mapping[str, Any], now: Mapping[str, Any]
) -> tuple[BenchSettingChanged, ...]:
    """Return what differs of two sets of settings; an instrument that is gone has ``None``."""
    gone = {name: None for name in known if name.startswith(INSTRUMENT) and name not in now}
    return tuple(
        BenchSettingChanged(name, known.get(name), value)
        for name, value in {**now, **gone}.items()
        if value != known.get(name)
    )


def on_record(store: ChainStore) -> Mapping[str, Any]:
    """Return the last value on record of each setting that weighs on evidence."""
    return {
        entry.event.setting: entry.event.after
        for entry in store.entries(kind=BenchSettingChanged.kind)
        if isinstance(entry.event, BenchSettingChanged)
    }


def found_changed(settings: Settings, store: ChainStore) -> tuple[BenchSettingChanged, ...]:
    """Return what in the settings is not as it was on record last."""
    return changed_between(on_record(store), weighing_of(settings))


def instruments_changed(settings: Settings, store: ChainStore) -> list[Event]:
    """Return which instruments of the settings are not as they were on record last."""
    changed = found_changed(settings, store)
    return [fact for fact in changed if fact.setting.startswith(INSTRUMENT)]
