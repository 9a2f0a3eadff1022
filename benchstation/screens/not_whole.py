"""Records that are not whole, at the start: what is missing since when, and who answers for it."""

from collections.abc import Mapping
from concurrent.futures import Future
from dataclasses import dataclass

from benchstation.bench.accepting import ANSWER, LEAVE, Accepting
from benchstation.screens.model.elements import ActionView, FieldKind, FieldView, Tone
from benchstation.screens.model.onboarding import AddingView

STANDS = (
    "A copy can be put in their place instead: close this, and see 'benchstation restore'. "
    "Whoever continues signs for it; what is missing stays missing, and that is on record."
)


@dataclass(frozen=True, slots=True)
class NotWholeScreens:
    """Answers the window that asks before records are used that lack something."""

    accepting: Accepting

    def adding(self) -> AddingView | None:
        """Return the question; ``None`` once it is answered or left."""
        if self.accepting.store is not None or self.accepting.left:
            return None
        return AddingView(
            "not-whole",
            "The records are not whole",
            "Keep the file as it is for QA. A lead decides whether this bench continues with it.",
            lines=((self.accepting.problem, Tone.DANGER), (STANDS, Tone.PLAIN)),
            fields=(
                FieldView("name", "The lead's name", FieldKind.TEXT),
                FieldView("reason", "What happened", FieldKind.TEXT, hint="stands on record"),
                FieldView("pin", "The lead's PIN", FieldKind.PIN, hint="signs it"),
            ),
            actions=(
                ActionView(ANSWER, "Continue with these records", "Return", primary=True),
                ActionView(LEAVE, "Close", "Esc"),
            ),
        )

    def adding_act(self, action: str, fields: Mapping[str, str]) -> Future[str]:
        """Answer, or leave all as it is."""
        return self.accepting.act(action, fields)
