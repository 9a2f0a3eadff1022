"""The first start: the demonstration, or a real bench in four questions.

Shop, person, scale, transducer. What is answered is checked at once by the rules of the set-up
file; nothing is written before the last screen, and then all of it.
"""

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from enum import StrEnum
from typing import Any, Protocol

from benchstation.bench.onboarding.instrument import LISTEN_S, Adding, New, Places
from benchstation.bench.onboarding.set_up import check_set_up
from benchstation.config.set_up import check_bench, check_person
from benchstation.config.settings import Settings, own_profiles
from benchstation.devices.adding import same_line
from benchstation.domain.events import Event, PersonEnrolled
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.materials import Material
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError, in_field
from benchstation.quantities.units import Dimension, parse

Write = Callable[[Settings, Sequence[Event]], object]


class Founded(Protocol):
    """Records of a bench that was founded before its settings were lost: a lead signs there."""

    def there(self, settings: Settings) -> bool:
        """Return True where such records are."""

    def prove(self, settings: Settings, name: str, pin: str) -> None:
        """Raise unless this is a lead's PIN."""

    def changes(self, settings: Settings, events: Sequence[Event]) -> tuple[str, ...]:
        """Return each difference in words."""

    def write(
        self, settings: Settings, events: Sequence[Event], name: str, pin: str, reason: str
    ) -> None:
        """Put it on record as the lead signs it."""


PATH_PARTS = {
    "hose": "fill hose",
    "tool": "fill tool",
    "gauge": "gauge range",
    "regulator": "regulator outlet",
}
ROLES = ("technician", "lead")
ASKED_AS = {
    "path_ratings.": "",
    "bench_id": "the bench's name",
    "bench_temperature_k": "air temperature",
    "altitude_m": "altitude",
    "barometer_pa": "barometer",
}
_FIELD_OF = {
    "bench_temperature_k": "temperature",
    "altitude_m": "place",
    "barometer_pa": "place",
    "path_ratings": "hose",
    **{f"path_ratings.{part}": name for name, part in PATH_PARTS.items()},
}
"""The question's field, where the settings call it otherwise."""
CORRECT = "Correct what is named; nothing was written."


class Question(StrEnum):
    """Where the first start stands."""

    CHOICE = "choice"
    SHOP = "shop"
    PERSON = "person"
    SCALE = "scale"
    GAUGE = "gauge"
    REVIEW = "review"
    DONE = "done"


ORDER = (Question.SHOP, Question.PERSON, Question.SCALE, Question.GAUGE, Question.REVIEW)


class Outcome(StrEnum):
    """What comes after it."""

    NOTHING = "nothing"
    DEMO = "demo"
    BENCH = "bench"


class FirstStart:
    """Asks, and writes at the end. ``adding_act`` may be called from any thread.

    ``write`` puts settings and facts where they belong.
    """

    def __init__(
        self,
        write: Write,
        *,
        founded: Founded | None = None,
        listen_s: float = LISTEN_S,
    ) -> None:
        self.question = Question.CHOICE
        self.outcome = Outcome.NOTHING
        self.typed: dict[str, str] = {}
        """What was typed so far but the PIN, by field."""
        self.bench: Settings | None = None
        self.new: dict[str, New] = {}
        self.signs = False
        """Whether a lead who is on record signs, in place of a first person."""
        self.changes: tuple[str, ...] = ()
        """What differs from the records of a founded bench, in words."""
        self._pin = ""
        self._write, self._founded = write, founded
        self._listen_s = listen_s
        self._steps: dict[Question, Adding] = {}
        self._worker = ThreadPoolExecutor(1, thread_name_prefix="first start")
        self._actions: dict[str, Callable[[Mapping[str, str]], str]] = {
            "demo": self._demo,
            "set_up": self._set_up,
            "shop": self._shop,
            "person": self._person,
            "write": self._write_all,
            "back": self._back,
        }

    def close(self) -> None:
        """Stop what is under way and close every port."""
        self._worker.shutdown(wait=True, cancel_futures=True)
        for steps in self._steps.values():
            steps.close()

    # --- from any thread -------------------------------------------------------------------------

    @property
    def instrument(self) -> Adding | None:
        """Return the steps of the instrument that is brought in now."""
        return self._steps.get(self.question)

    def adding_act(self, action: str, fields: Mapping[str, str]) -> Future[str]:
        """Do an action; those of an instrument go to its steps."""
        steps = self.instrument
        if steps is None:
            return self._worker.submit(self._do, action, dict(fields))
        if action == "leave":
            return self._worker.submit(self._leave)
        return steps.adding_act(action, fields)

    # --- the worker's thread ---------------------------------------------------------------------

    def _do(self, action: str, fields: Mapping[str, str]) -> str:
        known = self._actions.get(action)
        if known is None:
            raise NotAllowedError(f"there is no action '{action}' here.")
        return known(fields)

    def _demo(self, _: Mapping[str, str]) -> str:
        self.outcome, self.question = Outcome.DEMO, Question.DONE
        return ""

    def _set_up(self, _: Mapping[str, str]) -> str:
        self.question = Question.SHOP
        return "Nothing is written before the last screen."

    def _shop(self, fields: Mapping[str, str]) -> str:
        self._remember(fields)
        table = self._bench_table()
        try:
            self.bench = check_bench(table, "Shop")
        except StationError as error:
            raise NotAllowedError(
                _as_asked(error.what),
                where="Shop",
                advice=CORRECT,
                detail=error.detail,
                field=_FIELD_OF.get(error.field, error.field),
            ) from error
        self.signs = self._founded is not None and self._founded.there(self.bench)
        self.question = Question.PERSON
        return ""

    def _remember(self, fields: Mapping[str, str]) -> None:
        self.typed |= {k: v.strip() for k, v in fields.items() if k not in ("row", "pin", "again")}

    def _bench_table(self) -> dict[str, Any]:
        typed = self.typed
        if not typed.get("shop"):
            raise NotAllowedError(
                "the shop has no name.", where="Shop", advice="Type one.", field="shop"
            )
        ratings = {part: typed[name] for name, part in PATH_PARTS.items() if typed.get(name)}
        if not ratings:
            raise NotAllowedError(
                "no part of the pressure path has a rating.",
                where="Shop",
                advice="Read them off the parts: without one the guard has no limit.",
                field="hose",
            )
        table: dict[str, Any] = {
            "shop": typed["shop"],
            "bench_id": typed.get("bench_id", ""),
            "path_ratings": ratings,
        }
        if typed.get("temperature"):
            table["bench_temperature_k"] = typed["temperature"]
        return table | _place(typed.get("place", ""))

    def _person(self, fields: Mapping[str, str]) -> str:
        self._remember(fields)
        pin = fields.get("pin", "")
        if self.signs:
            self._sign(pin)
            return ""
        if pin != fields.get("again", ""):
            raise NotAllowedError(
                "the two PINs differ.",
                where="Person",
                advice="Type the same one twice.",
                field="pin",
            )
        with in_field("pin"):
            check_person(self._person_table(pin), "Person")
        self._pin = pin
        self._enter(Question.SCALE)
        return ""

    def _sign(self, pin: str) -> None:
        assert self._founded is not None
        assert self.bench is not None
        if not self.typed.get("reason"):
            raise NotAllowedError(
                "no reason is given.", where="Person", advice="Say why.", field="reason"
            )
        with in_field("pin"):
            self._founded.prove(self.bench, self.typed.get("name", ""), pin)
        self._pin = pin
        self._enter(Question.SCALE)

    def _person_table(self, pin: str) -> dict[str, Any]:
        name = self.typed.get("name", "")
        return {"id": person_id(name), "name": name, "roles": ROLES, "pin": pin}

    def _enter(self, question: Question) -> None:
        """Go to the scale or the gauge; what was proven before is asked anew."""
        role = InstrumentRole(question.value)
        if old := self._steps.pop(question, None):
            old.close()
        steps = Adding(_Keeper(self, question), role=role, listen_s=self._listen_s)
        self._steps[question] = steps
        steps.adding_act("begin", {}).result()
        self.question = question

    def took(self, question: Question, new: New) -> None:
        """Take a proven instrument and go on."""
        self.new[question.value] = new
        if question is Question.SCALE and "gauge" not in self.new:
            self._enter(Question.GAUGE)
        else:
            if self._founded is not None and self.signs:
                self.changes = self._founded.changes(*self._answered())
            self.question = Question.REVIEW

    def _leave(self) -> str:
        left = self.question
        if left is Question.SCALE:
            self.question = Question.PERSON
        else:
            self._enter(Question.SCALE)
        # Only now: what is on screen is the question that it leads to.
        if steps := self._steps.pop(left, None):
            steps.close()
        return "One question back."

    def _back(self, _: Mapping[str, str]) -> str:
        if self.question is Question.REVIEW:
            self._enter(Question.GAUGE)
        elif self.question is Question.PERSON:
            self.question = Question.SHOP
        else:
            self.question = Question.CHOICE
        return ""

    def _write_all(self, _: Mapping[str, str]) -> str:
        for new in self.new.values():
            new.keep_profile([own_profiles()])
        settings, events = self._answered()
        if self._founded is not None and self.signs:
            name, reason = self.typed["name"], self.typed["reason"]
            self._founded.write(settings, events, name, self._pin, reason)
        else:
            self._write(settings, events)
        self._pin = ""
        self.outcome, self.question = Outcome.BENCH, Question.DONE
        return "This bench is set up."

    def _answered(self) -> tuple[Settings, list[Event]]:
        """Return the settings and facts of what was answered; whoever is on record stays so."""
        table = {
            "bench": self._bench_table(),
            "people": [self._person_table(self._pin)],
            "instruments": {role: _instrument_table(new) for role, new in self.new.items()},
        }
        settings, found = check_set_up(table, "Set-up")
        # With all that was typed of their certificates.
        proven = {new.registered.instrument_id: new.registered for new in self.new.values()}
        events = [
            proven.get(getattr(event, "instrument_id", ""), event)
            for event in found
            if not (self.signs and isinstance(event, PersonEnrolled))
        ]
        events += [event for new in self.new.values() for event in new.received]
        checks = [new.checked for new in self.new.values()]
        return settings, [*events, *checks]


class _Keeper:
    """Takes an instrument into the answers; no bench reads anything yet."""

    def __init__(self, start: FirstStart, question: Question) -> None:
        self._start, self._question = start, question

    def begin(self) -> None:
        """Do nothing: adding an instrument is always allowed here."""

    def used_by(self, url: str) -> str:
        """Return the title of the other instrument when it was proven on this port."""
        for role, new in self._start.new.items():
            if role != self._question.value and same_line(new.settings.url, url):
                return new.registered.title
        return ""

    def let_go(self, url: str) -> None:
        """Nobody reads it."""

    def take_back(self) -> None:
        """Do nothing: no running instrument was released."""

    def places(self, role: InstrumentRole, url: str) -> Places:
        """Return nothing: this bench has no instrument yet."""
        return Places()

    def weights(self) -> Sequence[Material]:
        """Return none: nothing is on record yet."""
        return ()

    def new_id(self, role: str) -> str:
        """Return the first instrument's name."""
        return f"{role}-1"

    def save(self, new: New) -> str:
        """Take it, and go on to the next question."""
        if other := self.used_by(new.settings.url):
            raise NotAllowedError(
                f"{other} was proven on this port.", advice="Choose the port of this one."
            )
        self._start.took(self._question, new)
        return f"{new.registered.title} is added."


def _as_asked(what: str) -> str:
    """Name the fields of a refusal as the question does, not as the settings file does."""
    for field, asked in ASKED_AS.items():
        what = what.replace(field, asked)
    return what


def _place(text: str) -> dict[str, str]:
    """Read an altitude or what a barometer shows; empty is sea level."""
    if not text:
        return {}
    try:
        parse(text, Dimension.LENGTH)
    except StationError:
        return {"barometer_pa": text}
    return {"altitude_m": text}


def _instrument_table(new: New) -> dict[str, Any]:
    kept = new.registered
    return {
        "id": kept.instrument_id,
        "title": kept.title,
        "profile": new.settings.profile,
        "url": new.settings.url,
        "serial": kept.serial_number,
    }


def person_id(name: str) -> str:
    """Return a person's name in the records: plain small letters, digits and hyphens."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "first"
