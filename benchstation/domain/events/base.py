"""What all events have in common."""

from dataclasses import asdict, dataclass
from typing import Any, ClassVar

from pydantic import ConfigDict

from benchstation.driver_api.errors import StationError

FORM = "form"
"""In a stored body the number of its form, from 2 on; no event has a field of this name."""


class EventError(StationError):
    """A stored event cannot be understood by this version."""


@dataclass(frozen=True, slots=True)
class Event:
    """Base of all events; ``unit_id`` is there on those that belong to one unit's rebuild."""

    __pydantic_config__: ClassVar[ConfigDict] = ConfigDict(extra="forbid")
    kind: ClassVar[str] = ""
    form: ClassVar[int] = 1
    """The shape of its body. Raised with every change of a field or of what one means."""

    def body(self) -> dict[str, Any]:
        """Return the event as a JSON-ready mapping, without its kind and form."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class UnitEvent(Event):
    """Base of the events of one unit's rebuild."""

    unit_id: str
