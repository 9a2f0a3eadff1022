"""Keeping a search under a name, and putting on record who was told of a unit it found."""

from dataclasses import dataclass

from benchstation.bench.commands.parsing import named
from benchstation.bench.messages import Message
from benchstation.bench.session import LEADS_AND_QA, BenchSession, Command
from benchstation.domain.events import NoticeGiven, SearchSaved
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.store.notices import saved_searches
from benchstation.store.queries import get_unit

LONGEST_NAME = 60
MOST_SAVED = 40


@dataclass(frozen=True, slots=True)
class SaveSearch(Command):
    """Keep a search of whoever is signed in; without a question, forget the name."""

    name: str
    question: str = ""

    def __call__(self, session: BenchSession) -> Message:
        assert session.person is not None
        person, name = session.person.person_id, " ".join(self.name.split())
        known = saved_searches(session.store, person)
        if not 0 < len(name) <= LONGEST_NAME:
            raise NotAllowedError(
                f"a search has a name of at most {LONGEST_NAME} letters.",
                where="Records",
                advice="Give it a short name.",
            )
        if self.question and name not in known and len(known) >= MOST_SAVED:
            raise NotAllowedError(
                f"you keep {MOST_SAVED} searches already.",
                where="Records",
                advice="Remove one that you no longer use.",
            )
        session.journal([SearchSaved(person, name, self.question.strip())])
        return Message(f"“{name}” is {'saved' if self.question else 'removed'}.")


@dataclass(frozen=True, slots=True)
class GiveNotice(Command):
    """Put on record that somebody was told of a unit: the list shows it whenever it is opened."""

    roles = LEADS_AND_QA
    told: str = named("reason")
    unit_id: str = named("unit")
    question: str = ""

    def __call__(self, session: BenchSession) -> Message:
        serial = get_unit(session.store, self.unit_id).serial
        session.journal([NoticeGiven(self.question.strip(), self.unit_id, self.told.strip())])
        return Message(f"{serial}: the notice is on record.")
