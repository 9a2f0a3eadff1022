"""The one place where threads meet: the station's threads on one side, the window on the other.

A timer asks for the present moment some sixty times a second; only another one is passed on. What
cannot wait comes by a queued signal, at most one under way. Results of actions come back the same
way, into the window's thread.
"""

import itertools
import logging
import threading
from collections.abc import Callable, Mapping
from concurrent.futures import CancelledError, Future
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot

from benchstation.driver_api.errors import StationError
from benchstation.screens.model.bench import BenchView
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.service import StationService

TICK_MS = 16

_logger = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Message:
    """A sentence for the person at the bench, and what it means."""

    text: str
    tone: Tone
    field: str = ""
    """The field of the form that must be put right, where there is one."""


def message_of(error: BaseException) -> Message:
    """Word an error: where, what, what to do. A bug is called one; its words go to the log."""
    if isinstance(error, StationError):
        return Message(str(error), Tone.CAUTION, error.field)
    if isinstance(error, CancelledError):
        return Message("This was cancelled; nothing was changed.", Tone.CAUTION)
    _logger.error("an action failed", exc_info=error)
    name = type(error).__name__
    return Message(
        f"The program met an error of its own ({name}). What was signed or captured before is "
        "kept. Try once more; if it comes back, send the log.",
        Tone.DANGER,
    )


class Answers(QObject):
    """Brings results of what the station was asked into the window's thread."""

    _settled = Signal(int)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._lock = threading.Lock()
        self._open = True
        self._tokens = itertools.count(1)
        self._waiting: dict[
            int, tuple[Future[Any], Callable[[Any], None], Callable[[Message], None]]
        ]
        self._waiting = {}
        self._settled.connect(self._on_settled, Qt.ConnectionType.QueuedConnection)

    def close(self) -> None:
        """Stop asking; what the station's threads still say is let drop."""
        with self._lock:
            self._open = False
        self._waiting.clear()

    def follow(
        self,
        ask: Callable[[], Future[Any]],
        done: Callable[[Any], None],
        failed: Callable[[Message], None],
    ) -> None:
        """Ask the station for something; one of the two is called later in this thread."""
        try:
            future = ask()
        except Exception as error:  # noqa: BLE001 - worded for the person, and logged when it is a bug
            failed(message_of(error))
            return
        token = next(self._tokens)
        self._waiting[token] = (future, done, failed)
        future.add_done_callback(partial(self._tell_settled, token))

    def _tell_settled(self, token: int, _: Future[Any]) -> None:
        """Note that a future is done. From any thread."""
        with self._lock:
            if self._open:
                self._settled.emit(token)

    @Slot(int)
    def _on_settled(self, token: int) -> None:
        known = self._waiting.pop(token, None)
        if known is None:
            return
        future, done, failed = known
        try:
            error = future.exception()
        except CancelledError as cancelled:
            error = cancelled
        if error is not None:
            failed(message_of(error))
        else:
            done(future.result())


class Bridge(Answers):
    """Brings moments and results from the station into the window's thread."""

    seen = Signal(object)
    """A new :class:`BenchView`."""
    lost = Signal(str)
    """The station gives no view: the words why. The last view no longer holds."""
    _woken = Signal()

    def __init__(self, port: StationService, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.port = port
        self._wake_under_way = False
        self._last_loss = ""
        self._last: BenchView | None = None
        self._woken.connect(self._on_woken, Qt.ConnectionType.QueuedConnection)
        self._timer = QTimer(self)
        self._timer.setInterval(TICK_MS)
        self._timer.timeout.connect(self._look)
        port.listen(self._wake)

    @property
    def who(self) -> str:
        """Return who is signed in as the last view has it; empty for nobody."""
        return self._last.who if self._last is not None else ""

    def start(self) -> None:
        """Show the present moment now, and go on doing so."""
        self.refresh()
        self._timer.start()

    def close(self) -> None:
        """Stop asking; what the station's threads still say is let drop."""
        self._timer.stop()
        super().close()

    @Slot()
    def refresh(self) -> None:
        """Ask for the present moment and pass it on."""
        self._last = None
        self._look()

    @Slot()
    def _look(self) -> None:
        """Ask for the present moment and pass it on when it is another one."""
        try:
            view = self.port.view()
        except Exception as error:  # noqa: BLE001 - whatever happened, old readings must not pass for new
            self._last = None
            self._tell_lost(error)
            return
        self._last_loss = ""
        if view is not self._last:
            self._last = view
            self.seen.emit(view)

    def _tell_lost(self, error: Exception) -> None:
        key = f"{type(error).__name__}: {error}"
        if key == self._last_loss:
            return
        self._last_loss = key
        self.lost.emit(message_of(error).text)

    def act(
        self,
        action: str,
        fields: Mapping[str, str],
        done: Callable[[str], None],
        failed: Callable[[Message], None],
    ) -> None:
        """Do an action of the bench."""
        self.follow(partial(self.port.act, action, fields), done, failed)

    def _wake(self) -> None:
        """Note a change that cannot wait. From any thread."""
        with self._lock:
            if not self._open or self._wake_under_way:
                return
            self._wake_under_way = True
            self._woken.emit()

    @Slot()
    def _on_woken(self) -> None:
        with self._lock:
            self._wake_under_way = False
            is_open = self._open
        if is_open:
            self.refresh()


def without_trust(view: BenchView, why: str) -> BenchView:
    """Return a moment whose readings no longer hold: all are stale and say so."""
    strip = tuple(
        replace(r, stale=True, tone=Tone.DANGER, health="failure", words=(why,), age="")
        for r in view.strip
    )
    big = view.task.big
    task = replace(view.task, big=replace(big, stale=True) if big is not None else None, urge=0.0)
    return replace(view, strip=strip, task=task)
