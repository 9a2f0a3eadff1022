"""An instrument on its way to the bench: port, listen, match, prove, name, certificate, save.

One worker thread does it step by step; the window only asks for the present moment. Each step can
be stopped, nothing is kept before the last, and the port is closed whatever happens.
"""

import logging
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import Protocol

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.certificate_form import certificate_from, is_given
from benchstation.bench.instrument_checks import check
from benchstation.bench.onboarding import building
from benchstation.bench.onboarding.building import Building
from benchstation.bench.onboarding.check_weight import weight_on
from benchstation.bench.onboarding.set_up import check_instrument
from benchstation.config.settings import InstrumentSettings, own_profiles
from benchstation.devices import adding
from benchstation.devices.adding import Heard, Search
from benchstation.devices.instrument import Instrument
from benchstation.devices.profile import Profile
from benchstation.devices.profile_builder import Mark
from benchstation.domain.calibrating import registered_with
from benchstation.domain.events import (
    Event,
    InstrumentChecked,
    InstrumentRegistered,
    MaterialReceived,
)
from benchstation.domain.inputs.given import YES
from benchstation.domain.instrument_roles import InstrumentRole, role_of
from benchstation.domain.materials import Material
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.contract import LineSettings
from benchstation.driver_api.errors import StationError, in_field
from benchstation.link.ports import Port, ports
from benchstation.metrology.calibration import LinearCalibration
from benchstation.metrology.check_weights import permissible_error
from benchstation.quantities.formatter import QuantityFormatter, day_of
from benchstation.quantities.units import UnitSystem, display_unit, parse

log = logging.getLogger(__name__)
LISTEN_S = 3.0
TAIL_BYTES = 512
BESIDE = "-"
"""In place of an id: it takes nobody's place."""
TITLES = {
    InstrumentRole.SCALE: "Bench scale",
    InstrumentRole.GAUGE: "Charge gauge",
    InstrumentRole.THERMOMETER: "Bench thermometer",
    InstrumentRole.BAROMETER: "Bench barometer",
    InstrumentRole.HYGROMETER: "Bench hygrometer",
}


class Stage(StrEnum):
    """How far an instrument has come."""

    PORT = "port"
    LISTEN = "listen"
    MATCH = "match"
    BUILD = "build"
    """Nobody reads it: a profile is made on what was heard."""
    PROVE = "prove"
    NAME = "name"
    CERTIFICATE = "certificate"
    SAVE = "save"


@dataclass(frozen=True, slots=True)
class New:
    """A proven instrument as it will be kept."""

    settings: InstrumentSettings
    registered: InstrumentRegistered
    checked: InstrumentChecked
    base: Profile
    profile: Profile
    """``base`` at the line settings that the device has."""
    instead_of: str = ""
    """The instrument whose place it takes, by id; empty: it stands beside the others."""
    weight: Material | None = None
    """The check weight that it was proven with, where that comes on record with it."""

    def keep_profile(self, own: Sequence[Path]) -> None:
        """Write the profile for another line, where it is one, among the user's own."""
        adding.keep_at_line(self.base, self.profile, own_profiles(), own)

    @property
    def events(self) -> tuple[Event, ...]:
        """Return the facts for the journal."""
        return (*self.received, self.registered, self.checked)

    @property
    def received(self) -> tuple[Event, ...]:
        """Return the fact that its check weight is received, where it was not on record."""
        return () if self.weight is None else (MaterialReceived(self.weight),)


@dataclass(frozen=True, slots=True)
class Places:
    """The instruments whose place a new one may take, as id and title, and whose it is meant to."""

    fitted: tuple[tuple[str, str], ...] = ()
    meant: str = ""


class Keeper(Protocol):
    """Who takes the instrument in the end. The worker thread calls it; it may block."""

    def begin(self) -> None:
        """Raise when no instrument may be added now, or not by whoever stands here."""

    def used_by(self, url: str) -> str:
        """Return the title of the instrument that reads this port now, or empty."""

    def let_go(self, url: str) -> None:
        """Close this port where the bench reads it."""

    def take_back(self) -> None:
        """Read again what was let go."""

    def places(self, role: InstrumentRole, url: str) -> Places:
        """Return whose place an instrument of this role on this port may take."""

    def new_id(self, role: str) -> str:
        """Return a name for the records that no instrument has yet."""

    def weights(self) -> Sequence[Material]:
        """Return the check weights on record that may be used today."""

    def save(self, new: New) -> str:
        """Keep it, and give a sentence."""


@dataclass(frozen=True, slots=True)
class State:
    """All that is known of it so far; the worker replaces it whole."""

    stage: Stage
    ports: tuple[Port, ...] = ()
    used: Mapping[str, str] = field(default_factory=dict)
    """Title of the instrument that reads a port, by the port's stable url."""
    url: str = ""
    busy: str = ""
    """What is being done, in words; empty when it waits for a person."""
    heard: Heard | None = None
    asked: bool = False
    building: Building | None = None
    """The profile that is made here, with what it makes of the frames."""
    base: Profile | None = None
    """The profile chosen; ``profile`` is the same at the line settings heard."""
    profile: Profile | None = None
    weights: Sequence[Material] = ()
    """The check weights that a scale may be proven with."""
    weight: Material | None = None
    """The check weight of the last check, where it was described here."""
    checked: InstrumentChecked | None = None
    resolution: float = 0.0
    """The last digit that it showed when it was checked, SI."""
    typed: Mapping[str, str] = field(default_factory=dict)
    places: Places = field(default_factory=Places)
    new: New | None = None

    @property
    def role(self) -> InstrumentRole:
        """Return what the chosen device is at the bench."""
        assert self.profile is not None
        role = role_of(self.profile.kind, self.profile.channel.reference)
        assert role is not None
        return role


class Adding:
    """Brings one instrument in. ``state`` and ``adding_act`` may be used from any thread."""

    def __init__(
        self,
        keeper: Keeper,
        *,
        role: InstrumentRole | None = None,
        profiles: Sequence[Path] | None = None,
        listen_s: float = LISTEN_S,
    ) -> None:
        self.wanted_role = role
        self.listen_s = listen_s
        self.display = UnitSystem.METRIC
        self.instrument: Instrument | None = None
        self._keeper = keeper
        self._own = [own_profiles()] if profiles is None else list(profiles)
        self._state: State | None = None
        self._tail = b""
        self._stop = threading.Event()
        self._worker = ThreadPoolExecutor(1, thread_name_prefix="adding")
        self._actions: dict[str, Callable[[State, Mapping[str, str]], str]] = {
            "look": self._look,
            "listen": self._listen,
            "again": self._again,
            "ask": self._ask,
            "others": self._others,
            "match": self._match,
            "build": self._build,
            "try": self._try,
            "save_profile": self._save_profile,
            **{f"mark_{mark}": partial(self._mark, mark) for mark in Mark},
            "check": self._check,
            "go_on": self._go_on,
            "name": self._name,
            "certificate": self._certificate,
            "none_yet": self._none_yet,
            "save": self._save,
            "back": self._back,
            "stop": self._stopped,
            "leave": self._leave,
        }

    def close(self) -> None:
        """Stop what is under way and close the port."""
        self._stop.set()
        self._worker.shutdown(wait=True, cancel_futures=True)
        self._release()
        self._state = None

    # --- from any thread -------------------------------------------------------------------------

    @property
    def state(self) -> State | None:
        """Return how far it has come; ``None`` when nothing is being brought in."""
        return self._state

    def adding_act(self, action: str, fields: Mapping[str, str]) -> Future[str]:
        """Do an action in the worker's thread; stopping needs no turn."""
        if action in ("stop", "leave"):
            self._stop.set()
        return self._worker.submit(self._do, action, dict(fields))

    @property
    def tail(self) -> bytes:
        """Return the last bytes that came."""
        instrument = self.instrument
        return instrument.raw_log.tail(TAIL_BYTES) if instrument else self._tail

    # --- the worker's thread ---------------------------------------------------------------------

    def _do(self, action: str, fields: Mapping[str, str]) -> str:
        self._stop.clear()
        if action == "begin":
            return self._begin()
        state = self._state
        known = self._actions.get(action)
        if state is None or known is None:
            raise NotAllowedError(f"there is no action '{action}' here.")
        return known(state, fields)

    def _begin(self) -> str:
        self._keeper.begin()
        self._release()
        self._to_ports()
        return "Choose the port that the instrument is plugged into."

    def _to_ports(self) -> None:
        found = tuple(ports())
        used = {port.stable_url: self._keeper.used_by(port.name) for port in found}
        self._tail = b""
        self._state = State(Stage.PORT, found, used)

    def _look(self, state: State, _: Mapping[str, str]) -> str:
        self._to_ports()
        return "Looked for ports again."

    def _listen(self, state: State, fields: Mapping[str, str]) -> str:
        url = fields.get("address", "").strip() or fields.get("row", "")
        if not url:
            raise NotAllowedError(
                "no port is chosen.", where="Port", advice="Choose one, or type an address."
            )
        state = replace(state, stage=Stage.LISTEN, url=adding.stable_url(url), heard=None)
        self._keeper.begin()
        self._keeper.let_go(state.url)
        return self._hear(state)

    def _again(self, state: State, _: Mapping[str, str]) -> str:
        return self._hear(replace(state, stage=Stage.LISTEN))

    def _ask(self, state: State, fields: Mapping[str, str]) -> str:
        self._demand_consent(fields)
        return self._hear(replace(state, stage=Stage.LISTEN, asked=True), asks=True)

    def _others(self, state: State, fields: Mapping[str, str]) -> str:
        self._demand_consent(fields)
        return self._hear(replace(state, stage=Stage.LISTEN), asks=state.asked, tries=True)

    @staticmethod
    def _demand_consent(fields: Mapping[str, str]) -> None:
        if fields.get("consent") != YES:
            raise NotAllowedError(
                "nothing was tried: the port may belong to something else.",
                where="Listen",
                advice="Tick that only this instrument is on it.",
            )

    def _hear(self, state: State, *, asks: bool = False, tries: bool = False) -> str:
        profiles, _ = adding.usable(self._own)
        roles = set(InstrumentRole) if self.wanted_role is None else {self.wanted_role}
        profiles = [p for p in profiles if role_of(p.kind, p.channel.reference) in roles]
        self._tail = b""
        search = Search(
            state.url,
            profiles,
            self.listen_s,
            asks=asks,
            tries=tries,
            stop=self._stop.is_set,
            tell=lambda words: self._show(replace(state, busy=words)),
            heard=self._keep_tail,
        )
        self._show(replace(state, busy="opening the port"))
        best: Heard | None = None
        try:
            for heard in search.run(self._first_line(state)):
                if best is None or heard.worth > best.worth:
                    best = heard
        except StationError:
            self._keeper.take_back()
            self._to_ports()
            raise
        state = replace(state, busy="", heard=best)
        if self._stop.is_set():
            self._show(state)
            return "Stopped; the port is closed."
        if best is None or not best.matches:
            self._show(state)
            return adding.nothing_words(best, asked=asks)
        self._show(replace(state, stage=Stage.MATCH))
        return "Choose the profile whose reading is what the instrument shows."

    @staticmethod
    def _first_line(state: State) -> LineSettings:
        return state.heard.settings if state.heard else LineSettings()

    def _keep_tail(self, data: bytes) -> None:
        self._tail = (self._tail + data)[-TAIL_BYTES:]

    def _match(self, state: State, fields: Mapping[str, str]) -> str:
        found = state.heard.matches if state.heard else ()
        wanted = fields.get("row", "")
        match = next((m for m in found if m.profile.id == wanted), None)
        if match is None or state.heard is None:
            raise NotAllowedError(
                "no profile is chosen.", where="Match", advice="Choose one of those that read it."
            )
        profile = match.profile
        if adding.has_line_settings(state.url):
            profile = adding.at_line(profile, state.heard.settings)
        self._prove(replace(state, base=match.profile, profile=profile))
        return "It is read live now."

    def _build(self, state: State, _: Mapping[str, str]) -> str:
        role = self.wanted_role or InstrumentRole.SCALE
        made = state.building or building.begin(state.heard, state.url, role, self.listen_s)
        self._show(replace(state, stage=Stage.BUILD, building=made))
        return "Choose the number's characters, then mark them; so with unit, state and sign."

    def _made(self, state: State, fields: Mapping[str, str]) -> Building:
        """Return the profile that is made, with what stands in the form."""
        if state.building is None:
            raise NotAllowedError("no profile is made here.", where="Profile")
        return building.typed(state.building, fields)

    def _mark(self, mark: Mark, state: State, fields: Mapping[str, str]) -> str:
        made = building.marked(self._made(state, fields), mark, fields)
        self._show(replace(state, building=made))
        return f"Marked as {mark}."

    def _try(self, state: State, fields: Mapping[str, str]) -> str:
        made = building.judged(self._made(state, fields))
        self._show(replace(state, building=made))
        return made.problem or f"{made.fitting} of {len(made.fits)} different frames fit."

    def _save_profile(self, state: State, fields: Mapping[str, str]) -> str:
        made = building.judged(self._made(state, fields))
        self._show(replace(state, building=made))
        folder = own_profiles()
        profile = building.save(made, folder, [*self._own, folder])
        self._prove(replace(state, building=made, base=profile, profile=profile))
        return f"Kept as {folder / profile.id}.toml, with a transcript. It is read live now."

    def _prove(self, state: State) -> None:
        """Read it live, as the bench will."""
        assert state.profile is not None
        self._release()
        instrument = Instrument(
            state.role,
            state.profile.title,
            state.profile,
            LinearCalibration(1.0, 0.0),
            clock=time.perf_counter,
        )
        instrument.connect(state.url)
        self.instrument = instrument
        weights = self._keeper.weights() if state.role is InstrumentRole.SCALE else ()
        state = replace(state, weights=weights, weight=None)
        self._show(replace(state, stage=Stage.PROVE, checked=None, new=None))

    def _check(self, state: State, fields: Mapping[str, str]) -> str:
        instrument, profile = self.instrument, state.profile
        if instrument is None or profile is None:
            raise NotAllowedError("nothing is read now.", where="Prove")
        unknown = InstrumentRegistered(
            "new", state.role, profile.title, profile.id, "", 1.0, 0.0, 0.0, "", "", ""
        )
        fitted = BenchInstrument(instrument, unknown)
        words, nominal = QuantityFormatter(self.display), self._nominal(state.role, fields)
        weight = None
        if state.role is InstrumentRole.SCALE:
            weight = weight_on(state.weights, fields, nominal, day_of(datetime.now(UTC)))
            nominal = weight.nominal_kg
        checked = check(fitted, time.perf_counter(), nominal, words=words)
        if weight is not None:
            error = permissible_error(weight.nominal_kg or 0.0, weight.weight_class)
            checked = replace(checked, weight=weight.lot, weight_error=error)
        described = weight if weight not in state.weights else None
        resolution = fitted.resolution(0.0)
        state = replace(state, checked=checked, weight=described, resolution=resolution)
        if not checked.passed:
            self._show(state)
            return "It does not show what it must; see the words beside the number."
        self._to_name(state)
        return "Proved. The port is closed again until it is saved."

    def _nominal(self, role: InstrumentRole, fields: Mapping[str, str]) -> float | None:
        """Return what it must show; a number without a unit is in the units that are shown."""
        typed = fields.get("nominal", "").strip()
        if not typed:
            return None
        unit = display_unit(role.dimension, self.display)
        with in_field("nominal"):
            return parse(typed, role.dimension, default_unit=unit)

    def _go_on(self, state: State, _: Mapping[str, str]) -> str:
        if state.checked is None:
            raise NotAllowedError(
                "it was not checked yet.", where="Prove", advice="Check it first, then continue."
            )
        self._to_name(state)
        return "The check failed: with this instrument nothing is captured until one passes."

    def _to_name(self, state: State) -> None:
        self._release()
        typed = {"id": self._keeper.new_id(state.role), "title": TITLES[state.role]}
        places = self._keeper.places(state.role, state.url)
        typed = {**typed, "place": places.meant or BESIDE, **state.typed}
        self._show(replace(state, stage=Stage.NAME, typed=typed, places=places, new=None))

    def _name(self, state: State, fields: Mapping[str, str]) -> str:
        state = self._with_typed(state, fields)
        new = self._checked_new(state)
        self._show(replace(state, stage=Stage.CERTIFICATE, new=new))
        return "Now its certificate, if it has one."

    def _with_typed(self, state: State, fields: Mapping[str, str]) -> State:
        """Keep what was typed, also when it is refused."""
        typed = {name: text.strip() for name, text in fields.items() if name != "row"}
        state = replace(state, typed={**state.typed, **typed})
        self._show(state)
        return state

    def _certificate(self, state: State, fields: Mapping[str, str]) -> str:
        state = self._with_typed(state, fields)
        if state.new is None or not is_given(state.typed):
            raise NotAllowedError(
                "nothing of a certificate is typed.",
                where="Certificate",
                advice="Type it, or say that there is none yet.",
                field="certificate",
            )
        certificate = certificate_from(
            state.typed,
            state.role,
            self.display,
            day_of(datetime.now(UTC)),
            step=state.resolution,
        )
        registered = registered_with(state.new.registered, certificate)
        new = replace(state.new, registered=registered)
        self._show(replace(state, stage=Stage.SAVE, new=new))
        return "Review it, then save."

    def _none_yet(self, state: State, _: Mapping[str, str]) -> str:
        new = self._checked_new(state)
        self._show(replace(state, stage=Stage.SAVE, new=new))
        return "Review it, then save. Nothing is captured with it before it has a certificate."

    def _checked_new(self, state: State) -> New:
        profile, base, checked, typed = state.profile, state.base, state.checked, state.typed
        assert profile is not None
        assert base is not None
        assert checked is not None
        table: dict[str, object] = {
            "id": typed.get("id", ""),
            "title": typed.get("title", ""),
            # A profile at another line is written only when the instrument is saved.
            "profile": base.id,
            "url": state.url,
            "serial": typed.get("serial", ""),
            "use": typed.get("use", ""),
        }
        settings, registered = check_instrument(state.role, table, "Name")
        return New(
            settings.model_copy(update={"profile": profile.id}),
            replace(registered, profile_id=profile.id),
            replace(checked, instrument_id=registered.instrument_id),
            base,
            profile,
            self._instead_of(state.places, typed.get("place", "")),
            state.weight,
        )

    @staticmethod
    def _instead_of(places: Places, place: str) -> str:
        if not places.fitted or place == BESIDE:
            return ""
        if place not in dict(places.fitted):
            raise NotAllowedError(
                "it is not said whose place it takes.",
                where="Name",
                advice="Choose one, or that it stands beside.",
                field="place",
            )
        return place

    def _save(self, state: State, _: Mapping[str, str]) -> str:
        if state.new is None:
            raise NotAllowedError("it has no name yet.", where="Save")
        self._release()
        said = self._keeper.save(state.new)
        self._state = None
        return said

    def _back(self, state: State, _: Mapping[str, str]) -> str:
        self._release()
        if state.stage is Stage.SAVE:
            self._show(replace(state, stage=Stage.CERTIFICATE))
        elif state.stage is Stage.CERTIFICATE:
            self._show(replace(state, stage=Stage.NAME))
        elif state.stage is Stage.NAME:
            self._prove(state)
        elif state.stage in (Stage.PROVE, Stage.BUILD):
            # A profile that was made here is kept, and offered when it is listened to again.
            known = state.heard is not None and bool(state.heard.matches)
            self._show(replace(state, stage=Stage.MATCH if known else Stage.LISTEN))
        else:
            self._keeper.take_back()
            self._to_ports()
        return "One step back."

    def _stopped(self, state: State, _: Mapping[str, str]) -> str:
        return "Stopped; the port is closed."

    def _leave(self, state: State, _: Mapping[str, str]) -> str:
        self._release()
        self._state = None
        self._keeper.take_back()
        return "No instrument was added; nothing was changed."

    def _show(self, state: State) -> None:
        self._state = state

    def _release(self) -> None:
        instrument, self.instrument = self.instrument, None
        if instrument is None:
            return
        try:
            instrument.stop()
        except TimeoutError as error:
            # The reader saw the stop and closes the port as soon as the system lets it.
            log.warning("%s", error)
