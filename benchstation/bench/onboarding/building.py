"""A profile built in the window: what is marked and typed, and whether every frame fits at once."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from benchstation.devices import profile_builder as builder
from benchstation.devices.adding import Heard, has_line_settings, write_own
from benchstation.devices.frame_fit import FrameFit, fit_frames
from benchstation.devices.profile import Profile, profile_ids
from benchstation.devices.profile_builder import Draft, Mark
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError

FRAME, FROM, TO = "frame", "from", "to"
"""What is chosen in the frames: which of them, and its columns."""
TITLE, ROLE, LOW, HIGH, UNIT, RATE = "title", "role", "low", "high", "number_unit", "rate"
STATE_OF, UNIT_OF = "state-", "unit-"
"""Before a text's bytes in hexadecimal: what it means."""
LEAST_FITTING = 0.8
TRANSCRIPTS = "transcripts"
_KIND = {
    InstrumentRole.SCALE: "mass",
    InstrumentRole.GAUGE: "pressure",
    InstrumentRole.BAROMETER: "pressure",
    InstrumentRole.THERMOMETER: "temperature",
    InstrumentRole.HYGROMETER: "humidity",
}


@dataclass(frozen=True, slots=True)
class Building:
    """A draft with what it makes of each frame; ``problem`` says why it makes nothing yet."""

    draft: Draft
    role: InstrumentRole
    fits: tuple[FrameFit, ...] = ()
    problem: str = ""

    @property
    def fitting(self) -> int:
        """Count the different frames that fit, overload and errors among them."""
        return sum(fit.understood for fit in self.fits)


def field_of(prefix: str, text: str) -> str:
    """Return the name of the field that says what a text means."""
    return prefix + text.encode("utf-8").hex()


def begin(heard: Heard | None, url: str, role: InstrumentRole, seconds: float) -> Building:
    """Return a draft on what was heard. Raises where no text frames came."""
    data = b"".join(heard.chunks) if heard is not None else b""
    line = heard.settings if heard is not None and has_line_settings(url) else None
    draft = builder.draft_from(data, _KIND[role], seconds, line)
    if draft is None:
        raise NotAllowedError(
            "no lines of text came that a profile could be made of.",
            where="Profile",
            advice="Listen again while the instrument sends, or write a profile by hand: see F1.",
        )
    return judged(Building(of_role(draft, role), role))


def of_role(draft: Draft, role: InstrumentRole) -> Draft:
    """Return the draft for an instrument of this role."""
    absolute = role is InstrumentRole.BAROMETER
    return replace(draft, kind=_KIND[role], reference="absolute" if absolute else "gauge")


def judged(building: Building) -> Building:
    """Return it with what the driver makes of each frame now."""
    draft = building.draft
    try:
        profile = builder.profile_of(replace(draft, title=draft.title or "draft"))
        fits = fit_frames(profile, draft.frames)
    except StationError as error:
        return replace(building, fits=(), problem=f"{error.what} {error.advice}".strip())
    return replace(building, fits=fits, problem="")


def typed(building: Building, fields: Mapping[str, str]) -> Building:
    """Return it with what stands in the form."""
    draft = building.draft
    role = InstrumentRole(fields[ROLE]) if fields.get(ROLE) else building.role
    states = dict(draft.states)
    for text in draft.texts_of(Mark.STATE):
        if fields.get(field_of(STATE_OF, text)):
            states[text] = fields[field_of(STATE_OF, text)]
    units = dict(draft.units)
    for text in {text.strip() for text in draft.texts_of(Mark.UNIT)}:
        if fields.get(field_of(UNIT_OF, text), "").strip():
            units[text] = fields[field_of(UNIT_OF, text)].strip()
    given = {name: fields.get(name, "").strip() for name in (TITLE, LOW, HIGH, UNIT)}
    draft = replace(
        of_role(draft, role),
        states=states,
        units=units,
        title=given[TITLE],
        low=given[LOW],
        high=given[HIGH],
        unit=given[UNIT] or draft.unit,
        rate_hz=_rate(fields.get(RATE, ""), draft.rate_hz),
    )
    return replace(building, draft=draft, role=role)


def _rate(text: str, usual: float) -> float:
    try:
        rate = float(text.replace(",", ".")) if text.strip() else usual
    except ValueError:
        rate = 0.0
    if not 0.0 < rate <= 1000.0:
        raise NotAllowedError(
            f"'{text[:20]}' is no number of readings a second.",
            where="Profile",
            advice="Type one such as 10.",
            field=RATE,
        )
    return rate


def marked(building: Building, mark: Mark, fields: Mapping[str, str]) -> Building:
    """Return it with a mark on the chosen characters."""
    places = [fields.get(name, "") for name in (FRAME, FROM, TO)]
    frame, start, end = (int(p) if p.isascii() and p.isdigit() else -1 for p in places)
    draft = building.draft.with_mark(mark, frame, start, end)
    return judged(replace(building, draft=draft))


def save(building: Building, folder: Path, own: list[Path]) -> Profile:
    """Write the profile and the transcript of its frames among the user's own.

    Raises ``StationError`` while it has no title, or does not fit the frames, and for a name that
    another profile has.
    """
    draft = building.draft
    if not draft.title:
        raise NotAllowedError(
            "the profile has no title.", where="Profile", advice="Type one.", field=TITLE
        )
    if building.problem:
        raise NotAllowedError(building.problem, where="Profile")
    if building.fitting < LEAST_FITTING * len(building.fits):
        raise NotAllowedError(
            f"only {building.fitting} of {len(building.fits)} different frames fit.",
            where="Profile",
            advice="Mark what varies, until the others fit too.",
        )
    profile = builder.profile_of(draft)
    if profile.id in profile_ids(own):
        raise NotAllowedError(
            f"there is a profile '{profile.id}' already.",
            where="Profile",
            advice="Give this one another title.",
            field=TITLE,
        )
    transcript = builder.transcript_of(draft, building.fits)
    write_own(folder / TRANSCRIPTS / profile.id / "readings.txt", transcript)
    write_own(folder / f"{profile.id}.toml", builder.text_of(draft))
    return profile
