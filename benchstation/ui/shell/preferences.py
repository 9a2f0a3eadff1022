"""Makes the window as who is signed in likes it, and keeps what is changed by keys."""

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
        self, bridge: Bridge, controls: PreferenceControls, failed: Callable[[Message], None]
    ) -> None:
        self._bridge, self._controls, self._failed = bridge, controls, failed
        self._usual = controls.now()
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
        came, changed = view.who != self._who, view.preferences != self._liked
        self._who, self._liked = view.who, view.preferences
        sent, self._sent = self._sent, None
        if view.preferences is None:
            return
        wanted = _whole(view.preferences, self._usual)
        if came or (changed and wanted != sent):
            if wanted != self._controls.now():
                self._controls.turn(wanted)
            return
        now = self._controls.now()
        if now not in (wanted, self._not_kept):
            self._keep(now, wanted)

    def _keep(self, chosen: DisplayPreferences, before: DisplayPreferences) -> None:
        """Send what was turned; the rest stays as the bench has it where it was so."""
        self._under_way, self._sent = True, chosen
        fields = {}
        if chosen.theme != before.theme:
            fields["theme"] = chosen.theme
        if chosen.text_scale != before.text_scale:
            fields["text_scale"] = str(chosen.text_scale)
        if chosen.pour_tone != before.pour_tone:
            fields["pour_tone"] = "on" if chosen.pour_tone else "off"
        self._bridge.act("prefer", fields, self._on_kept, partial(self._on_not_kept, chosen))

    def _on_kept(self, _: str) -> None:
        self._under_way = False
        self._bridge.refresh()

    def _on_not_kept(self, chosen: DisplayPreferences, message: Message) -> None:
        self._under_way, self._sent, self._not_kept = False, None, chosen
        self._failed(message)


def _whole(liked: DisplayPreferences, usual: DisplayPreferences) -> DisplayPreferences:
    """Fill in what is liked as the bench has it. Units are left out: they are the station's."""
    return DisplayPreferences(
        "",
        liked.theme or usual.theme,
        liked.text_scale or usual.text_scale,
        usual.pour_tone if liked.pour_tone is None else liked.pour_tone,
    )
