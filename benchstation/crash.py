"""What happens when something goes wrong unforeseen: it is logged, shown once, and never hidden.

No Qt here: the window passes a callback. Python errors of any thread go to a rotating log; a crash
of the interpreter itself leaves its stacks in a file that the next start finds.
"""

import faulthandler
import logging
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from logging.handlers import RotatingFileHandler
from pathlib import Path
from time import gmtime
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from benchstation.driver_api.errors import StationError

if TYPE_CHECKING:
    # Only there for type checkers.
    from sys import UnraisableHookArgs as Unraisable
    from threading import ExceptHookArgs as ThreadError

LOG_NAME = "benchstation.log"
FAULTS_NAME = "faults.log"
LOG_BYTES = 2_000_000
LOG_FILES = 5
SWITCH_INTERVAL_S = 0.0005
LONGEST_FAULT = 64_000

_logger = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Crash:
    """An error that nobody caught, ready to be shown. ``bug`` is false for a worded error."""

    words: str
    thread: str
    bug: bool
    log_path: Path
    error: BaseException


def prepare_process() -> None:
    """Let a thread that waits get its turn within 0.5 ms rather than Python's usual 5 ms.

    A busy thread would otherwise hold up the one that reads the gauge.
    """
    sys.setswitchinterval(SWITCH_INTERVAL_S)


class CrashHooks:
    """Hooks for uncaught errors, logging into ``folder`` from :meth:`install` to :meth:`close`.

    ``on_crash`` is called in the failing thread, once for each place in the code that fails: an
    error on every frame must not open a window on every frame. It is never called for
    ``KeyboardInterrupt``, and what it raises itself is only logged.
    """

    def __init__(self, folder: Path, on_crash: Callable[[Crash], None] | None = None) -> None:
        self.log_path = folder / LOG_NAME
        self.previous_fault = ""
        """The stacks that the last run left when its interpreter died; usually empty."""
        self.on_crash = on_crash
        self._faults_path = folder / FAULTS_NAME
        self._seen: set[tuple[object, ...]] = set()
        self._lock = threading.Lock()
        self._undo: list[Callable[[], object]] = []

    def install(self) -> Self:
        """Open the logs and set the hooks. Raises :class:`StationError` when it cannot write."""
        try:
            self.log_path.parent.mkdir(parents=True, exist_ok=True)
            self._open_log()
            self._open_faults()
        except OSError as error:
            self.close()
            raise StationError(
                f"the log cannot be written ({error.strerror}).",
                where=str(self.log_path.parent),
                advice="Check that the disk is not full and that you may write there.",
                detail=repr(error),
            ) from error
        self._hook(sys, "excepthook", self._uncaught)
        self._hook(threading, "excepthook", self._uncaught_in_thread)
        self._hook(sys, "unraisablehook", self._unraisable)
        return self

    def close(self) -> None:
        """Put everything back as it was before :meth:`install`."""
        while self._undo:
            self._undo.pop()()

    def __enter__(self) -> Self:
        """Install for a ``with`` block."""
        return self.install()

    def __exit__(self, *_: object) -> None:
        """Put everything back."""
        self.close()

    def _open_log(self) -> None:
        handler = RotatingFileHandler(
            self.log_path, maxBytes=LOG_BYTES, backupCount=LOG_FILES, encoding="utf-8"
        )
        formatter = logging.Formatter(
            "%(asctime)s.%(msecs)03dZ %(levelname)s %(threadName)s %(name)s: %(message)s",
            "%Y-%m-%dT%H:%M:%S",
        )
        formatter.converter = gmtime
        handler.setFormatter(formatter)
        root = logging.getLogger()
        level = root.level
        root.addHandler(handler)
        root.setLevel(logging.INFO)
        self._undo += [handler.close, lambda: root.removeHandler(handler)]
        self._undo.append(lambda: root.setLevel(level))

    def _open_faults(self) -> None:
        if self._faults_path.exists():
            with self._faults_path.open("rb") as old:
                self.previous_fault = old.read(LONGEST_FAULT).decode("utf-8", "backslashreplace")
        if self.previous_fault:
            self._faults_path.replace(self._faults_path.with_suffix(".previous.log"))
            _logger.error("the last run died:\n%s", self.previous_fault)
        file = self._faults_path.open("wb")
        self._undo.append(file.close)
        was_on = faulthandler.is_enabled()
        faulthandler.enable(file)
        self._undo.append(faulthandler.enable if was_on else faulthandler.disable)

    def _hook(self, module: Any, name: str, hook: Callable[..., None]) -> None:
        before = getattr(module, name)
        setattr(module, name, hook)
        self._undo.append(lambda: setattr(module, name, before))

    def _uncaught(
        self,
        kind: type[BaseException],
        error: BaseException,
        trace: TracebackType | None,
    ) -> None:
        if issubclass(kind, KeyboardInterrupt):
            sys.__excepthook__(kind, error, trace)
            return
        self._handle(error, trace, threading.current_thread().name)

    def _uncaught_in_thread(self, args: "ThreadError") -> None:
        if issubclass(args.exc_type, SystemExit):
            return
        error = args.exc_value if args.exc_value is not None else args.exc_type()
        name = args.thread.name if args.thread is not None else "a thread that is gone"
        self._handle(error, args.exc_traceback, name)

    def _unraisable(self, args: "Unraisable") -> None:
        where = f"{args.err_msg or 'error that could not be raised'}: {args.object!r}"
        error = args.exc_value or args.exc_type()
        _logger.error("%s", where, exc_info=(type(error), error, args.exc_traceback))

    def _handle(self, error: BaseException, trace: TracebackType | None, thread: str) -> None:
        bug = not isinstance(error, StationError)
        _logger.log(
            logging.CRITICAL if bug else logging.ERROR,
            "uncaught in %s: %s",
            thread,
            getattr(error, "detail", "") or error,
            exc_info=(type(error), error, trace),
        )
        if not self._first_time(error, trace) or self.on_crash is None:
            return
        words = (
            f"The program met an error of its own ({type(error).__name__}). What was signed or "
            f"captured before is kept. Please send the log: {self.log_path}"
            if bug
            else str(error)
        )
        try:
            self.on_crash(Crash(words, thread, bug, self.log_path, error))
        except Exception:
            _logger.exception("the crash could not be shown")

    def _first_time(self, error: BaseException, trace: TracebackType | None) -> bool:
        while trace is not None and trace.tb_next is not None:
            trace = trace.tb_next
        place = (trace.tb_frame.f_code, trace.tb_lineno) if trace is not None else (str(error),)
        key = (type(error), *place)
        with self._lock:
            new = key not in self._seen
            self._seen.add(key)
        return new
