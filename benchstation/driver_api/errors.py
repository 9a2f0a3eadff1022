"""Errors that a driver or profile author meets, and the base of every error in words.

StationError                what happened, where, what to do; ``detail`` is for the log
+-- DriverError             a driver was asked for something it cannot do
    +-- OptionError         an option is missing, unknown or has a value that is not allowed
    +-- UnsupportedCommandError   the device has no such command
"""


class StationError(Exception):
    """The world went wrong in a way we can word. ``what``, ``where`` and ``advice`` are shown."""

    def __init__(self, what: str, *, where: str = "", advice: str = "", detail: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.advice = advice
        self.detail = detail

    def __str__(self) -> str:
        """Give one line: where, what, advice."""
        head = f"{self.where}: {self.what}" if self.where else self.what
        return f"{head} {self.advice}".strip() if self.advice else head


class DriverError(StationError):
    """A driver was asked for something it cannot do."""


class OptionError(DriverError):
    """An option is missing, unknown or out of what is allowed."""


class UnsupportedCommandError(DriverError):
    """The device understands no such command."""

    def __init__(self, driver_id: str, command: str) -> None:
        super().__init__(
            f"this device has no command '{command}'.",
            where=driver_id,
            advice="Use the key on the device itself.",
        )
