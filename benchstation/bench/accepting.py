"""A lead's word on records that lack something: one rule for the command line and the window."""

from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from benchstation.bench.lead_signs import UNCHANGED, WrongPinError, proven_lead
from benchstation.bench.signed_in import SignedIn
from benchstation.domain.events import Event
from benchstation.domain.people import Person
from benchstation.driver_api.errors import StationError, in_field
from benchstation.store.engine import Store, open_store
from benchstation.store.trust import Acceptance, Accepted, Trust

ANSWER, LEAVE = "answer", "leave"


@dataclass(slots=True)
class Accepting:
    """Records that are not whole, and a lead who answers for them."""

    file: Path
    bench: str
    trust: Callable[[], Trust]
    problem: str
    """What is missing since when, in words."""
    what: Accepted = Accepted.LOSS
    store: Store | None = None
    """The records in use again, once a lead has signed for them."""
    left: bool = False
    _tries: SignedIn = field(default_factory=SignedIn)
    _wrong: list[Event] = field(default_factory=list)

    def sign(self, name: str, pin: str, reason: str) -> tuple[Store, Person]:
        """Open the records as a lead signs for them; raise in words, and nothing was changed."""
        reason, utc = reason.strip(), datetime.now(UTC)
        if not reason:
            raise StationError("no reason is given.", advice=UNCHANGED, field="reason")
        with open_store(self.file, self.bench, read_only=True) as store:
            try:
                lead = proven_lead(store, name, pin, utc, self._tries)
            except WrongPinError as error:
                # It cannot be on record before the records are in use again.
                self._wrong.append(error.fact)
                raise
        said = Acceptance(lead.person_id, reason, self.what)
        opened = open_store(self.file, self.bench, trust=self.trust(), accepted=said)
        if self._wrong:
            opened.append(self._wrong, person=lead.person_id, utc=utc)
        self.store = opened
        return opened, lead

    def act(self, action: str, fields: Mapping[str, str]) -> Future[str]:
        """Answer, or leave all as it is."""
        done: Future[str] = Future()
        try:
            if action == ANSWER:
                with in_field("name"):
                    self.sign(*(fields.get(name, "") for name in ("name", "pin", "reason")))
            else:
                self.left = True
            done.set_result("")
        except StationError as error:
            done.set_exception(error)
        return done
