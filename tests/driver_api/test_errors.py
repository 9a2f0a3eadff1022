"""Errors in words: where, what, what to do; the detail is for the log alone."""

from benchstation.driver_api.errors import (
    DriverError,
    OptionError,
    StationError,
    UnsupportedCommandError,
)


def test_one_line_for_people():
    error = StationError("it broke.", where="scale", advice="Mend it.", detail="errno 5")
    assert str(error) == "scale: it broke. Mend it."
    assert str(StationError("it broke.")) == "it broke."
    assert "errno" not in str(error)
    assert error.args == ("it broke.",)


def test_the_tree():
    assert issubclass(OptionError, DriverError)
    assert issubclass(UnsupportedCommandError, DriverError)
    assert issubclass(DriverError, StationError)
    assert "tare" in str(UnsupportedCommandError("text_line", "tare"))
