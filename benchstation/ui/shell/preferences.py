"""Makes the window look as who is signed in likes it, and keeps what is changed by keys."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from benchstation.screens.model.bench import BenchView, DisplayPreferences
from benchstation.ui.shell.bridge import Bridge, Message


@dataclass(frozen=True, slots=True)
class PreferenceControls:
    """How the window is turned now, and how to turn it. Units are the station's."""

    now: Callable[[], DisplayPreferences]
    turn: Callable[[DisplayPreferences], None]


class PreferencesKeeper:
    """Follows the moments: who is there, what that person likes, what was changed since."""

    def __init__(
        self, bridge: Bridge, knobs: PreferenceControls, failed: Callable[[Message], None]
    ) -> None:
        self._bridge, self._knobs, self._failed = bridge, knobs, failed
        self._usual = knobs.now()
        self._who = ""
        self._liked: DisplayPreferences | None = None
        self._under_way = False
        self._sent: DisplayPreferences | None = None
        """What was turned here and comes back as kept: no change from elsewhere."""
        self._not_kept: DisplayPreferences | None = None

    def follow(self, view: BenchView) -> None:
        """Turn the window for someone who came; keep what someone who is there has turned."""
        if self._under_way:
            return
        came, changed = view.who != self._who, view.look != self._liked
        self._who, self._liked = view.who, view.look
        sent, self._sent = self._sent, None
        if view.look is None:
            return
        wanted = _whole(view.look, self._usual)
        if came or (changed and wanted != sent):
            if wanted != self._knobs.now():
                self._knobs.turn(wanted)
            return
        now = self._knobs.now()
        if now not in (wanted, self._not_kept):
            self._keep(now, wanted)

    def _keep(self, look: DisplayPreferences, before: DisplayPreferences) -> None:
        """Send what was turned; the rest stays as the bench has it where it was so."""
        self._under_way, self._sent = True, look
        fields = {}
        if look.lights != before.lights:
            fields["lights"] = look.lights
        if look.text_scale != before.text_scale:
            fields["text_scale"] = str(look.text_scale)
        if look.pour_tone != before.pour_tone:
            fields["pour_tone"] = "on" if look.pour_tone else "off"
        self._bridge.act("prefer", fields, self._on_kept, partial(self._on_not_kept, look))

    def _on_kept(self, _: str) -> None:
        self._under_way = False
        self._bridge.refresh()

    def _on_not_kept(self, look: DisplayPreferences, message: Message) -> None:
        self._under_way, self._sent, self._not_kept = False, None, look
        self._failed(message)


def _whole(liked: DisplayPreferences, usual: DisplayPreferences) -> DisplayPreferences:
    """Fill in what is liked as the bench has it. Units are left out: they are the station's."""
    return DisplayPreferences(
        "",
        liked.lights or usual.lights,
        liked.text_scale or usual.text_scale,
        usual.pour_tone if liked.pour_tone is None else liked.pour_tone,
    )
