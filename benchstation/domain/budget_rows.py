"""The contributions to a stated uncertainty: a code on record, and its words in one place."""

from enum import StrEnum

from benchstation.domain.recorded_parts import BudgetPart


class Row(StrEnum):
    """A contribution; on record as this code."""

    SCALE_RESOLUTION = "scale_resolution"
    SCALE_REPEATABILITY = "scale_repeatability"
    SCALE_CALIBRATION = "scale_calibration"
    BY_HAND = "by_hand"
    OIL_DENSITY = "oil_density"
    OIL_TEMPERATURE = "oil_temperature"
    AIR_BUOYANCY = "air_buoyancy"
    GAUGE_RESOLUTION = "gauge_resolution"
    GAUGE_CALIBRATION = "gauge_calibration"
    SETTLING = "settling"
    UNIT_TEMPERATURE = "unit_temperature"
    BENCH_TEMPERATURE = "bench_temperature"
    """In older records: the unit's was taken to be the bench's."""
    BAROMETER = "barometer"
    TUBE_EXPANSION = "tube_expansion"
    OIL_COMPRESSION = "oil_compression"
    UNIT_DRIFT = "unit_drift"


WORDS = {
    Row.SCALE_RESOLUTION: "scale resolution, tare and gross",
    Row.SCALE_REPEATABILITY: "scale repeatability",
    Row.SCALE_CALIBRATION: "scale calibration",
    Row.BY_HAND: "weighed by hand",
    Row.OIL_DENSITY: "density of the oil lot",
    Row.OIL_TEMPERATURE: "temperature of the oil",
    Row.AIR_BUOYANCY: "air buoyancy",
    Row.GAUGE_RESOLUTION: "gauge resolution",
    Row.GAUGE_CALIBRATION: "gauge calibration",
    Row.SETTLING: "settling fit",
    Row.UNIT_TEMPERATURE: "temperature of the unit",
    Row.BENCH_TEMPERATURE: "gas temperature at the bench",
    Row.BAROMETER: "barometer",
    Row.TUBE_EXPANSION: "expansion of the tube",
    Row.OIL_COMPRESSION: "compression of the oil",
    Row.UNIT_DRIFT: "drift of the unit, in both",
}
_CODES = {row.value: row for row in Row}
_APART = ": "


def name_of(row: Row, of: str = "") -> str:
    """Return the name of a contribution in its budget; ``of`` which lot or scale it is of."""
    return f"{row}{_APART}{of}" if of else row.value


def words_of(name: str) -> str:
    """Return a contribution's words from its name; a text that is no code stands as it is."""
    code, _, of = name.partition(_APART)
    row = _CODES.get(code)
    if row is None:
        return name
    between = " " if row is Row.OIL_DENSITY else ", "
    return f"{WORDS[row]}{between}{of}" if of else WORDS[row]


def row_of(part: BudgetPart) -> Row | None:
    """Return which contribution a row on record is; ``None`` for one that is not known."""
    return _CODES.get(part.name.partition(_APART)[0])


def name_from_words(words: str) -> str:
    """Return the name of what older records hold as words; others stand as they are."""
    for row, text in WORDS.items():
        if words == text:
            return row.value
        of = words.removeprefix(text)
        if of != words and of[0] in " ,":
            return name_of(row, of.lstrip(", "))
    return words
