"""What the bench drives beside its window: stack light, reading feed, and the alarm's mute."""

from dataclasses import dataclass, field

from benchstation.bench.outputs.feed import Feed
from benchstation.bench.outputs.lamp import Lamp
from benchstation.bench.outputs.mute import Mute


@dataclass(slots=True)
class Outputs:
    """The outputs of a bench; the guard drives them, the session only knows of them."""

    lamp: Lamp | None = None
    feed: Feed | None = None
    mute: Mute = field(default_factory=Mute)

    def show_on(self, lamp: Lamp) -> None:
        """Take note of the stack light, for its health."""
        self.lamp = lamp

    def send_to(self, feed: Feed) -> None:
        """Take note of the reading feed, for what is the matter with it."""
        self.feed = feed
