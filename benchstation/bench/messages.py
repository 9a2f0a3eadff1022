"""What the bench says to whoever stands at it, and how much it matters."""

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a message matters to whoever reads it."""

    NORMAL = "normal"
    ATTENTION = "attention"


@dataclass(frozen=True, slots=True)
class Message:
    """A sentence to whoever stands at the bench."""

    text: str = ""
    severity: Severity = Severity.NORMAL

    @property
    def needs_attention(self) -> bool:
        """Return True when the result needs the technician's attention."""
        return self.severity is Severity.ATTENTION


def attention_if(needed: object) -> Severity:
    """Return the severity of a result that needs attention where ``needed`` is true."""
    return Severity.ATTENTION if needed else Severity.NORMAL
