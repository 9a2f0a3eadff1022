"""Judges a form while it is typed: after a short pause the station says what is wrong, by field."""

from collections.abc import Callable, Mapping
from functools import partial

from PySide6.QtCore import QObject, QTimer, Slot

from benchstation.ui.shell.bridge import Bridge, Message
from benchstation.ui.widgets.forms.form import Form

PAUSE_MS = 300
"""So long nobody types before what stands there is judged."""


class LiveJudge(QObject):
    """Asks what the form's own action would refuse; ``asks`` says which, and what goes with it.

    An action without a name is not judged.
    """

    def __init__(
        self, form: Form, bridge: Bridge, asks: Callable[[], tuple[str, Mapping[str, str]]]
    ) -> None:
        super().__init__(form)
        self._form, self._bridge, self._asks = form, bridge, asks
        self._asked = 0
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(PAUSE_MS)
        self._pause.timeout.connect(self.judge)
        form.changed.connect(self._on_changed)

    @Slot()
    def _on_changed(self) -> None:
        # What was asked of an older text is no longer of interest.
        self._asked += 1
        self._pause.start()

    @Slot()
    def judge(self) -> None:
        """Judge what stands in the form now."""
        self._pause.stop()
        action, given = self._asks()
        if not action or not self._form.touched():
            return
        self._asked += 1
        self._bridge.follow(
            partial(self._bridge.port.judge, action, {**given, **self._form.judged_values()}),
            partial(self._on_judged, self._asked, self._form.step_id),
            self._on_failed,
        )

    def _on_judged(self, asked: int, step_id: str, wrong: Mapping[str, str]) -> None:
        if asked == self._asked and step_id == self._form.step_id:
            self._form.show_wrong(wrong)

    def _on_failed(self, _: Message) -> None:
        """Leave it: the taking will tell, and the log has it."""
