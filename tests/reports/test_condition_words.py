"""Air and unit in words: each source names itself, and a guess says that it is one."""

import pytest

from benchstation.domain.recorded_parts import Condition
from benchstation.quantities.formatter import METRIC, QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.reports.condition_words import condition_lines, source_words

INCH = QuantityFormatter(UnitSystem.INCH_POUND)
AIR = Condition("air temperature", 294.55, 0.3, "typed", "wall thermometer", 720.0, "Mira Kofler")


def test_a_figure_with_u_its_source_and_its_age():
    (line,) = condition_lines([AIR], METRIC)
    assert line == (
        "Air temperature",
        "21.4 ± 0.6 °C",
        "typed by Mira Kofler from wall thermometer, 12 min before",
    )
    barometer = Condition(
        "barometer", 100_900.0, 50.0, "instrument", "Wall barometer", 1.0, "", "b"
    )
    assert condition_lines([barometer], METRIC) == [("Barometer", "1009 ± 1 hPa", "Wall barometer")]


def test_in_the_readers_units():
    (line,) = condition_lines([AIR], INCH)
    assert line[1] == "70.5 ± 1.1 °F"


@pytest.mark.parametrize(
    ("condition", "words"),
    [
        (Condition("air temperature", 293.15, 5.0, "set-up"), "set-up value: no evidence"),
        (Condition("barometer", 95e3, 1200.0, "altitude"), "altitude (ISO 2533) and the weather"),
        (Condition("unit temperature", 294.0, 23.0, "not known"), "not known: neither measured"),
        (
            Condition("unit temperature", 294.0, 1.0, "in this room since", "T0", 60.0, "Mira"),
            "in this room since T0, said by Mira",
        ),
        (
            Condition("unit temperature", 303.0, 0.4, "measured", "clip probe", 60.0, "Mira"),
            "typed by Mira from clip probe, 1 min before",
        ),
        (
            Condition("unit temperature", 303.0, 0.4, "measured", "Probe", 60.0, "Mira", "p-1"),
            "Probe, 1 min before",
        ),
    ],
)
def test_every_source_says_what_it_is(condition, words):
    assert words in source_words(condition)
