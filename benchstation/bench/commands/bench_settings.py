"""Changing the bench's settings; what weighs on evidence is signed with a reason, and on record."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from benchstation.bench.bench_settings import LAMP, RATINGS, Group, Item, items_of
from benchstation.bench.commands.fitting import require_free_bench
from benchstation.bench.commands.parsing import secret, shown_units
from benchstation.bench.judging import tried
from benchstation.bench.messages import Message
from benchstation.bench.session import LEADS, BenchSession, Command
from benchstation.config.settings import (
    LampLine,
    Settings,
    SettingsError,
    parse_settings,
    with_changes,
)
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError, in_field
from benchstation.quantities.units import Dimension, UnitSystem, display_unit, parse, shown

WHERE = "Settings"
PART, RATING = "part:", "rating:"
"""Before the number of a part of the pressure path: fields of its name and its rating."""
LAMP_PART = "lamp:"
"""Before the name of a part of the lamp."""
KEPT = "kept"
"""A line's way as the settings file has it, where that is none of the usual ones."""
UNUSED = "none"
LINE_WAYS: Mapping[str, Mapping[str, Any] | None] = {
    UNUSED: None,
    "normal": {"steady": ["normal"], "fail_safe": "off"},
    "alarm": {"steady": ["warning", "alarm", "acknowledged"], "fail_safe": "on"},
    "flash": {"steady": ["acknowledged"], "flash": ["warning", "alarm"], "fail_safe": "on"},
}
"""How an output line may stand: not used, on while all is normal, on or flashing in an alarm."""
LIGHTS = ("normal", "warning", "alarm", "acknowledged", "lost")


@dataclass(frozen=True, slots=True)
class ChangeSettings(Command):
    """Change the settings of one group; what is not named stays."""

    roles = LEADS
    group: str
    form: Mapping[str, str] = field(default_factory=dict)
    reason: str = ""
    signature: str = secret(default="")

    def __call__(self, session: BenchSession) -> Message:
        before, changed = session.settings.now, self._changed(session)
        if changed == before:
            return Message("Nothing was changed.")
        facts = session.settings.differences(changed)
        if facts:
            require_free_bench(session)
            _refuse_under_alarm(session)
            if not self.reason:
                raise NotAllowedError(
                    "this affects evidence and needs a reason.",
                    where=WHERE,
                    advice="Say why in a few words.",
                    field="reason",
                )
            session.sign(self.signature)
        session.change_settings(changed, tuple(replace(f, reason=self.reason) for f in facts))
        late = [
            item.title
            for item in items_of(Group(self.group))
            if item.at_next_start and getattr(before, item.name) != getattr(changed, item.name)
        ]
        late += ["Lamp"] * (before.lamp != changed.lamp)
        then = f" {' and '.join(late)}: from the next start on." if late else ""
        return Message(f"Saved{' and put on record' if facts else ''}.{then}")

    def wrong(self, session: BenchSession) -> Iterable[StationError]:
        return tried(lambda: self._changed(session))

    def _changed(self, session: BenchSession) -> Settings:
        if self.group not in list(Group):
            raise NotAllowedError("there is no such group of settings.", where=WHERE)
        before = session.settings.now
        values = _values(Group(self.group), self.form, before)
        return parse_settings(with_changes(before.model_dump(mode="json"), values), where=WHERE)


def _refuse_under_alarm(session: BenchSession) -> None:
    if session.watch.snapshot().alarms:
        raise NotAllowedError(
            "an alarm is open; nothing was changed.", where=WHERE, advice="See to it first."
        )


def _values(group: Group, form: Mapping[str, str], before: Settings) -> dict[str, Any]:
    """Return what a form says, as plain data of the settings file.

    A field that is as it was shown stays what it was: what is shown is rounded.
    """
    system = shown_units(form)
    values: dict[str, Any] = {
        item.name: _value(item, form[item.name].strip(), system)
        for item in items_of(group)
        if item.name in form
        and form[item.name].strip() != item.text(getattr(before, item.name), system)
    }
    if group is Group.PATH and any(name.startswith(RATING) for name in form):
        values[RATINGS] = _ratings(form, before.path_ratings, system)
    if group is Group.OUTPUTS and f"{LAMP_PART}url" in form:
        values[LAMP] = _lamp(form, before)
    return values


def _value(item: Item, text: str, system: UnitSystem) -> Any:
    if item.choices:
        if text not in [value for value, _ in item.choices]:
            raise SettingsError(
                "there is no such choice.", advice="Choose one of those shown.", field=item.name
            )
        return {"true": True, "false": False}.get(text, int(text) if text.isdigit() else text)
    if item.listed:
        return [name for name in (part.strip() for part in text.split(",")) if name]
    if not text:
        return Settings.model_fields[item.name].default
    if item.dimension is None:
        return text
    return _quantity(text, item.dimension, item.unit(system), item.name)


def _quantity(text: str, dimension: Dimension, unit: str, name: str) -> float:
    with in_field(name):
        return parse(text, dimension, default_unit=unit)


def _ratings(
    form: Mapping[str, str], before: Mapping[str, float], system: UnitSystem
) -> dict[str, float]:
    """Return the rating of each part that has a name and a rating; one without both is left out."""
    ratings: dict[str, float] = {}
    for name in sorted(name for name in form if name.startswith(RATING)):
        number = name.removeprefix(RATING)
        part, text = " ".join(form.get(PART + number, "").split()), form[name].strip()
        if not part and not text:
            continue
        if not part or not text:
            missing, at = ("rating", name) if part else ("name", PART + number)
            raise SettingsError(
                f"a part of the path has no {missing}.",
                advice="Give both, or empty both to take the part out.",
                field=at,
            )
        if part in ratings:
            raise SettingsError(f"'{part}' stands twice.", field=PART + number)
        if part in before and text == rating_text(before[part], system):
            ratings[part] = before[part]
        else:
            unit = display_unit(Dimension.PRESSURE, system)
            ratings[part] = _quantity(text, Dimension.PRESSURE, unit, name)
    if not ratings:
        raise SettingsError(
            "the pressure path has no rating.",
            advice="Name at least one part: the lowest rating is the high limit.",
            field=f"{RATING}0",
        )
    return ratings


def rating_text(pa: float, system: UnitSystem) -> str:
    """Return a rating as it is typed and shown."""
    return str(shown(pa, Dimension.PRESSURE, system))


def _lamp(form: Mapping[str, str], before: Settings) -> dict[str, Any] | None:
    """Return the lamp that a form says, or ``None``; a line that stays as it is keeps its ways."""
    given = {n.removeprefix(LAMP_PART): t for n, t in form.items() if n.startswith(LAMP_PART)}
    if not given["url"].strip():
        return None
    lamp: dict[str, Any] = {"url": given["url"].strip()}
    if given.get("baudrate", "").strip():
        lamp["baudrate"] = given["baudrate"].strip()
    kept = before.model_dump(mode="json")["lamp"] or {}
    for line in ("rts", "dtr"):
        way = given.get(line, UNUSED)
        lamp[line] = kept.get(line) if way == KEPT else LINE_WAYS.get(way)
    if any(given.get(light, "") for light in LIGHTS):
        lamp["text"] = {light: _bytes_of(given.get(light, ""), light) for light in LIGHTS}
    if "refresh_s" in kept:
        lamp["refresh_s"] = kept["refresh_s"]
    return {name: value for name, value in lamp.items() if value is not None}


def way_of(line: LampLine | None) -> str:
    """Return which of the usual ways a line stands in."""
    if line is None:
        return UNUSED
    for name, way in LINE_WAYS.items():
        if way is not None and LampLine.model_validate(way) == line:
            return name
    return KEPT


def _bytes_of(text: str, light: str) -> str:
    try:
        return text.encode("latin-1").decode("unicode_escape")
    except UnicodeError as error:
        raise SettingsError(
            "a command has a character that is no single byte.",
            advice="Write other bytes as \\xNN and the line's end as \\r\\n.",
            field=LAMP_PART + light,
        ) from error
