"""Who is signed in at the bench, the wrong tries so far, and how long nobody has touched it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from benchstation.bench.idle import Idle
from benchstation.domain.events import PersonSignedIn, PinRefused
from benchstation.domain.people import Lockout, Person, check_pin, pause_after
from benchstation.domain.refusals import NotAllowedError
from benchstation.quantities.notation import fixed
from benchstation.store.chain_store import ChainStore
from benchstation.store.newest import newest_entries

BADGES = ""
"""Under this name wrong badges are counted, which are nobody's."""
BY_PIN, BY_BADGE = "PIN", "badge"
BY_HAND, TIMED, REPLACED = "by hand", "timed", "another came"
AT_SIGN_IN, AT_SIGNATURE, AT_SECOND = "sign-in", "signature", "second person"
AT_SET_UP = "set-up"
REMEMBERED_S = 86400.0
"""Wrong tries that are older do not count after a restart."""
MOST_REMEMBERED = 200


@dataclass(slots=True)
class SignedIn:
    """Who stands at the bench."""

    person: Person | None = None
    switching: bool = False
    """The sign-in form stands beside the running step."""
    idle: Idle = field(default_factory=Idle)
    tries: dict[str, Lockout] = field(default_factory=dict)
    """Wrong tries so far, by whose they are."""

    def become(self, person: Person | None) -> Person | None:
        """Return who was signed in, and replace that person by another or nobody."""
        before, self.person, self.switching = self.person, person, False
        return before

    def refresh(self, people: Mapping[str, Person]) -> None:
        """Take what is on record of the person now; who has left is signed out."""
        if self.person is not None:
            known = people.get(self.person.person_id)
            self.person = None if known is None or known.left else known

    def show_form(self) -> None:
        """Show the sign-in form beside the running step."""
        self.switching = True

    def leave_form(self) -> None:
        """Leave the sign-in form."""
        self.switching = False

    def wait_s(self, whose: str, now: float) -> float:
        """Return how long ``whose`` next try must wait, in s; 0 when it need not."""
        return self.tries.get(whose, Lockout()).wait_s(now)

    def count_wrong(self, whose: str, now: float) -> None:
        """Count a wrong try."""
        self.tries[whose] = self.tries.get(whose, Lockout()).failed(now)

    def proves(self, person: Person, pin: str, where: str, now: float) -> bool:
        """Return True for the person's PIN; a wrong one counts. Raise while none is taken."""
        wait_s = self.wait_s(person.person_id, now)
        if wait_s > 0:
            raise too_many(person, wait_s, where)
        right = check_pin(person, pin)
        if right:
            self.forget_wrong(person.person_id)
        else:
            self.count_wrong(person.person_id, now)
        return right

    def remember(self, store: ChainStore, now: float, utc: datetime) -> None:
        """Take up the wrong tries that are on record: a restart shortens no pause."""
        heard: set[str] = set()
        kinds = (PinRefused.kind, PersonSignedIn.kind)
        for entry in newest_entries(store, kinds, MOST_REMEMBERED):
            event, age_s = entry.event, (utc - entry.utc).total_seconds()
            if isinstance(event, PersonSignedIn):
                heard.add(BADGES if event.how == BY_BADGE else event.person_id)
            elif isinstance(event, PinRefused) and event.person_id not in heard:
                heard.add(event.person_id)
                if age_s < REMEMBERED_S:
                    # Where the clock was put back since, the pause begins anew and stays bounded.
                    left_s = pause_after(event.tries) - max(0.0, age_s)
                    self.tries[event.person_id] = Lockout(event.tries, now + max(0.0, left_s))

    def forget_wrong(self, whose: str) -> None:
        """Begin to count anew."""
        self.tries.pop(whose, None)


def too_many(person: Person, wait_s: float, where: str) -> NotAllowedError:
    """Return the error that says how long no PIN of this person is taken."""
    return NotAllowedError(
        f"too many wrong PINs for {person.name}.",
        where=where,
        advice=f"Wait {fixed(wait_s, 0)} s. Alarms can still be seen and heard.",
    )
