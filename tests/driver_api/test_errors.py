"""Errors in words: where, what, what to do; the detail is for the log alone."""

import pytest

from benchstation.driver_api.errors import (
    DriverError,
    OptionError,
    StationError,
    UnsupportedCommandError,
    in_field,
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


def test_a_refusal_names_the_field_nearest_to_it():
    with pytest.raises(StationError) as refused, in_field("outer"), in_field("inner"):
        raise StationError("no.")
    assert refused.value.field == "inner"
    with pytest.raises(StationError) as refused, in_field("outer"):
        raise StationError("no.", field="own")
    assert refused.value.field == "own"
