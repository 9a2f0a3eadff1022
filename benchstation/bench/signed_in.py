"""Who is signed in at the bench, the wrong tries so far, and how long nobody has touched it."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from benchstation.bench.idle import Idle
from benchstation.domain.people import Lockout, Person


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
            known = people[self.person.person_id]
            self.person = None if known.left else known

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

    def forget_wrong(self, whose: str) -> None:
        """Begin to count anew."""
        self.tries.pop(whose, None)
