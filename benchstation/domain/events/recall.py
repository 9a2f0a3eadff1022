"""Searches that a person keeps, lists of what was found, and who was told of it."""

from dataclasses import dataclass
from typing import ClassVar

from benchstation.domain.events.base import Event


@dataclass(frozen=True, slots=True)
class SearchSaved(Event):
    """Someone keeps a search under a name; an empty ``question`` forgets the name."""

    kind: ClassVar[str] = "person.search_saved"
    person_id: str
    name: str
    question: str


@dataclass(frozen=True, slots=True)
class RecallListed(Event):
    """A list of all units that a question found was written; ``sha256`` is that of its CSV.

    ``heads`` names each chain with the entry and the hash that it stood at, as the list does.
    """

    kind: ClassVar[str] = "recall.listed"
    question: str
    units: int
    heads: tuple[str, ...]
    sha256: str


@dataclass(frozen=True, slots=True)
class NoticeGiven(Event):
    """Somebody was told of a unit on such a list; ``told`` says who, and how."""

    kind: ClassVar[str] = "recall.notice"
    question: str
    rebuild: str
    told: str
