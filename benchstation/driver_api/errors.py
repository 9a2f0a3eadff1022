"""Errors that a driver or profile author meets, and the base of every error in words.

StationError                what happened, where, what to do; ``detail`` is for the log
+-- DriverError             a driver was asked for something it cannot do
    +-- OptionError         an option is missing, unknown or has a value that is not allowed
    +-- UnsupportedCommandError   the device has no such command
"""

from collections.abc import Iterator
from contextlib import contextmanager


class StationError(Exception):
    """The world went wrong in a way we can word. ``what``, ``where`` and ``advice`` are shown.

    ``field`` is the field of a form that must be put right, where there is one.
    """

    def __init__(
        self, what: str, *, where: str = "", advice: str = "", detail: str = "", field: str = ""
    ) -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.advice = advice
        self.detail = detail
        self.field = field

    def __str__(self) -> str:
        """Return one line: where, what, advice."""
        head = f"{self.where}: {self.what}" if self.where else self.what
        text = f"{head} {self.advice}".strip() if self.advice else head
        # What a file or a device says may hold line ends.
        return " ".join(text.splitlines())


@contextmanager
def in_field(name: str) -> Iterator[None]:
    """Name this field in a refusal raised inside that names none."""
    try:
        yield
    except StationError as error:
        error.field = error.field or name
        raise


class DriverError(StationError):
    """A driver was asked for something it cannot do."""


class OptionError(DriverError):
    """An option is missing, unknown or out of what is allowed."""


class UnsupportedCommandError(DriverError):
    """The device understands no such command."""

    def __init__(self, driver_id: str, command: str) -> None:
        super().__init__(
            f"this instrument has no command '{command}'.",
            where=driver_id,
            advice="Use the key on the instrument itself.",
        )
