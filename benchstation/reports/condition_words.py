"""The air and the unit's temperature as a result was judged with them, in words."""

from collections.abc import Callable, Iterable

from benchstation.domain.air_evidence import AirQuantity, AirSource, in_words
from benchstation.domain.body_temperature import BodySource
from benchstation.domain.recorded_parts import Condition
from benchstation.domain.unit_temperature import UNIT_TEMPERATURE
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import fixed
from benchstation.quantities.units import Dimension, shown

Line = tuple[str, str, str]
LIVE_S = 5.0
"""What was read so shortly before is read live; its age says nothing."""


def condition_lines(
    conditions: Iterable[Condition],
    words: QuantityFormatter,
    when: Callable[[str], str] = str,
) -> list[Line]:
    """Return what, how much with its uncertainty, and from what and how old; U with k = 2."""
    return [
        (one.quantity.capitalize(), value_words(one, words), source_words(one, when))
        for one in conditions
    ]


def value_words(one: Condition, words: QuantityFormatter) -> str:
    """Return a figure with its expanded uncertainty."""
    if one.quantity == AirQuantity.PRESSURE:
        value, u = words.barometer_shown(one.value), words.barometer_shown(2 * one.u)
        return f"{value.number} ± {u.number} {value.unit}"
    if one.quantity == AirQuantity.HUMIDITY:
        return f"{fixed(100 * one.value, 0)} ± {fixed(200 * one.u, 0)} % RH"
    value = words.temperature_shown(one.value)
    u = shown(2 * one.u, Dimension.TEMPERATURE_DIFFERENCE, words.system)
    return f"{value.number} ± {u.number} {value.unit}"


def source_words(one: Condition, when: Callable[[str], str] = str) -> str:
    """Return what a figure rests on, and how old that is."""
    live = one.age_s is None or one.age_s < LIVE_S
    age = "" if live else f", {in_words(one.age_s or 0.0)} before"
    by = f" by {one.person}" if one.person else ""
    match one.source:
        case AirSource.INSTRUMENT | BodySource.MEASURED if one.instrument_id:
            return f"{one.name}{age}"
        case AirSource.TYPED | BodySource.MEASURED:
            return f"typed{by} from {one.name}{age}"
        case BodySource.IN_ROOM:
            return f"in this room since {when(one.name)}, said{by}"
        case AirSource.ALTITUDE:
            return "estimate: altitude (ISO 2533) and the weather"
        case AirSource.SET_UP:
            return "set-up value: no evidence"
        case _:
            known = one.quantity == UNIT_TEMPERATURE
            return "not known: neither measured nor said how long it is here" if known else ""
