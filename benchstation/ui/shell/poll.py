"""What is asked again and again while a widget is seen."""

from collections.abc import Callable
from typing import TypeVar

from PySide6.QtCore import QEvent, QObject, QTimer
from PySide6.QtWidgets import QWidget

from benchstation.ui.shell.bridge import Message, message_of

_T = TypeVar("_T")


class Poll(QTimer):
    """Asks and shows while ``seen`` is seen; a trouble is told once, until another comes."""

    def __init__(
        self,
        seen: QWidget,
        ask: Callable[[], _T],
        show: Callable[[_T], None],
        tell: Callable[[Message], None],
        every_ms: int,
    ) -> None:
        super().__init__(seen)
        self._trouble = ""

        def once() -> None:
            try:
                answer = ask()
            except Exception as error:  # noqa: BLE001 - worded for the person, logged when a bug
                if str(error) != self._trouble:
                    self._trouble = str(error)
                    tell(message_of(error))
                return
            self._trouble = ""
            show(answer)

        self.once = once
        self.setInterval(every_ms)
        self.timeout.connect(once)
        seen.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Follow it while it is seen, rest while it is not."""
        if event.type() == QEvent.Type.Show:
            self.once()
            self.start()
        elif event.type() == QEvent.Type.Hide:
            self.stop()
        return False
