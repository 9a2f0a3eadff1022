"""Questions that follow each other faster than they are answered: only the last one counts."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from benchstation.screens.model.specifications import SpecificationDetail
from benchstation.ui.shell.bridge import Bridge, Message


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked of a specification: one on record by its key, or else a text."""

    key: str
    source: str
    travel: float
    at: str

    def same_subject(self, other: "Question | None") -> bool:
        """Return True when both ask about the same specification, however it is drawn."""
        return other is not None and (self.key, self.source) == (other.key, other.source)


class Latest:
    """Has at most one question under way, and keeps only the newest of those that wait.

    An answer about another specification than the one asked about last is dropped. An answer
    about the same one, drawn at another travel, is shown on the way.
    """

    def __init__(
        self,
        bridge: Bridge,
        answered: Callable[[Question, SpecificationDetail], None],
        failed: Callable[[Message], None],
    ) -> None:
        self._bridge, self._answered, self._failed = bridge, answered, failed
        self.wanted: Question | None = None
        self._asked: Question | None = None
        self._again = False

    def ask(self, question: Question) -> None:
        """Ask now, or as soon as the question under way is answered."""
        self.wanted = question
        if self._asked is None:
            self._send(question)
        else:
            self._again = True

    def forget(self) -> None:
        """Drop what is under way and what waits."""
        self.wanted, self._again = None, False

    def _send(self, question: Question) -> None:
        self._asked, self._again = question, False
        port, travel, at = self._bridge.port, question.travel, question.at
        ask = (
            partial(port.open_specification, question.key, travel, at)
            if question.key
            else partial(port.check_specification, question.source, travel, at)
        )
        self._bridge.follow(ask, self._on_answer, self._on_failed)

    def _on_answer(self, detail: SpecificationDetail) -> None:
        asked = self._next()
        if asked is not None and asked.same_subject(self.wanted):
            self._answered(asked, detail)

    def _on_failed(self, message: Message) -> None:
        asked = self._next()
        if asked is not None and asked.same_subject(self.wanted):
            self._failed(message)

    def _next(self) -> Question | None:
        asked, self._asked = self._asked, None
        if self._again and self.wanted is not None:
            self._send(self.wanted)
        return asked
