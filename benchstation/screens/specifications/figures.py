"""What every figure of a specification is called, what it is, and from where to where it goes.

One catalogue for the form, for the reading of a draft and for changes between revisions. A test
holds it against the models: a field that nobody described is found there.
"""

from dataclasses import dataclass
from typing import Any

from benchstation.domain.content import Part
from benchstation.domain.disc_stack import Disc, Stacks
from benchstation.domain.inputs.choice import Choice, Option
from benchstation.domain.inputs.confirmation import Confirmation
from benchstation.domain.inputs.line import TextLine
from benchstation.domain.inputs.material import MaterialInput
from benchstation.domain.inputs.part import PartLine
from benchstation.domain.inputs.photos import Photos
from benchstation.domain.inputs.quantity import Measure
from benchstation.domain.inputs.second_reading import SecondReading
from benchstation.domain.inputs.stack import StackInput
from benchstation.domain.inputs.text import FreeText
from benchstation.domain.inputs.torque import TorqueOf
from benchstation.domain.inputs.zero import ZeroReading
from benchstation.domain.route_step import NoteField, Step
from benchstation.domain.specification import (
    GasCharge,
    Geometry,
    Limits,
    Matching,
    OilFill,
    Service,
    Specification,
    Steadiness,
)
from benchstation.quantities.units import Dimension
from benchstation.screens.model.specifications import SheetKind

Q, N, T, C, B = (
    SheetKind.QUANTITY,
    SheetKind.NUMBER,
    SheetKind.TEXT,
    SheetKind.CHOICE,
    SheetKind.CHECK,
)
D = Dimension


@dataclass(frozen=True, slots=True)
class Figure:
    """One field: its name in the text, its label, its kind, and what it is in one line."""

    name: str
    label: str
    kind: SheetKind
    says: str = ""
    dimension: Dimension | None = None
    choices: tuple[tuple[str, str], ...] = ()
    mark: str = ""
    """Which dimension on the drawing it is."""


def _q(name: str, label: str, dimension: Dimension, says: str, mark: str = "") -> Figure:
    return Figure(name, label, Q, says, dimension, mark=mark)


def _c(name: str, label: str, says: str, *choices: tuple[str, str]) -> Figure:
    return Figure(name, label, C, says, choices=choices)


def same(*values: str) -> tuple[tuple[str, str], ...]:
    """Return choices that read as they are written."""
    return tuple((value, value) for value in values)


NAMES = (
    Figure("family", "Family", T, "as people at the bench call it"),
    Figure("title", "Title", T, "what it is and where it belongs"),
    Figure("id", "Short name", T, "small letters, digits and hyphens; the same in every revision"),
    Figure("revision", "Revision", N, "one more than the revision in force"),
)
GEOMETRY = (
    _q("bore", "Bore", D.LENGTH, "diameter within the tube, where the floating piston runs",
       "bore"),
    _q("rod", "Rod", D.LENGTH, "diameter of the piston rod", "rod"),
    _q("internal_length", "Internal length", D.LENGTH,
       "from the closed gas end to the underside of the rod guide", "length"),
    _q("stroke", "Stroke", D.LENGTH, "travel of the rod, from fully out to full bump", "stroke"),
    _q("floating_piston", "Floating piston", D.LENGTH,
       "its thickness, from the gas face to the oil face", "floating"),
    _q("piston_depth", "Main piston", D.LENGTH,
       "from the underside of the rod guide to the gas side of its nut, rod fully out", "piston"),
    _q("guide_depth", "Rod guide", D.LENGTH,
       "from the tube's mouth to the underside of the rod guide", "guide"),
    _q("hardware_volume", "Hardware", D.VOLUME,
       "all that is neither oil nor gas: main piston, valves, end of the rod"),
    _q("gas_recess", "Gas recess", D.VOLUME,
       "gas room beyond the plain bore, such as a hollow floating piston"),
)  # fmt: skip
OIL = (
    Figure("grade", "Oil", T, "as the lots are called in Materials"),
    _q("volume", "Fill", D.VOLUME, "net oil in the closed unit, at the reference temperature",
       "oil"),
    _q("tolerance", "Tolerance", D.VOLUME, "how far the net oil may differ, either way"),
    _q("reference_temperature", "Reference", D.TEMPERATURE, "temperature at which the fill holds"),
    _q("bleed_allowance", "Bleed allowance", D.VOLUME, "poured on top, and bled off again"),
    _q("typical_rho15", "Density", D.DENSITY, "at 15 °C; for the windows, before a lot is chosen"),
    _c("method", "Weighed by", "what stands on the scale", ("gain", "gain: the open body"),
       ("loss", "loss: the jug"), ("difference", "difference: the unit, before and after")),
    _q("unit_mass", "Unit's mass", D.MASS, "about, without oil; a scale rated for it is chosen"),
    _c("basis", "Volume holds", "at which temperature the volume is meant",
       ("reference", "at the reference temperature"), ("as poured", "as poured, here and now")),
)  # fmt: skip
GAS = (
    _q("gauge_pressure", "Charge", D.PRESSURE,
       "gauge, rod fully out, at the reference temperature", "gas"),
    _q("tolerance", "Tolerance", D.PRESSURE, "how far the settled charge may differ, either way"),
    _q("reference_temperature", "Reference", D.TEMPERATURE,
       "temperature at which the charge holds; the same as the oil's"),
    _q("high_warning", "High warning", D.PRESSURE, "gauge; from here on the bench warns"),
    _q("body_rating", "Body rating", D.PRESSURE, "gauge; the most that the body is rated for"),
    _q("release_zero_band", "Zero band", D.PRESSURE, "gauge; up to here the gas counts as out"),
    _q("settle_rate", "Settled below", D.PRESSURE, "change in one second"),
    _q("hold_time", "Hold", D.TIME, "how long the settled charge is watched"),
    _q("allowed_leak", "Allowed leak", D.LEAK, "in the hold test"),
)  # fmt: skip
SERVICE = (
    _q("lost", "Loss in service", D.PRESSURE, "charge that may be lost; the leak rate follows"),
    _q("within", "Within", D.TIME, "in how much of service, such as 365 d"),
)
LIMITS = (
    _q("hot", "Hot", D.TEMPERATURE, "the hottest that the oil becomes"),
    _q("cold", "Cold", D.TEMPERATURE, "the coldest that the unit works at"),
    _q("piston_room", "Gas room", D.LENGTH,
       "least, from gas end to floating piston, at full bump, hot", "room"),
    _q("piston_clearance", "Clearance", D.LENGTH,
       "least, from floating piston to main piston, at full bump, cold", "clearance"),
    _q("rebound_force", "Rebound force", D.FORCE, "largest force of the valves in rebound"),
)  # fmt: skip
MATCHING = (
    _q("oil", "Oil in a set", D.VOLUME, "largest less smallest net oil among units of one set"),
    _q("charge", "Charge in a set", D.PRESSURE, "largest less smallest charge in one set"),
    _q("push_force", "Push force in a set", D.FORCE, "largest less smallest force in one set"),
)
STEADINESS = (
    _q("window", "Steady over", D.TIME, "how long the scale must stay within the band"),
    _q("band", "Steady band", D.MASS, "how far readings may differ and still be steady"),
    Figure("count", "Readings", N, "how many must agree, at least"),
    _q("tare_band", "Tare band", D.MASS, "how far from zero the tared scale may stand"),
)
STACKS = (_q("hub", "Seat", D.LENGTH, "diameter that the discs sit on, for the drawing"),)
DISC = (
    _q("outer", "Diameter", D.LENGTH, "outside"),
    _q("thickness", "Thickness", D.LENGTH, "of one disc"),
    Figure("count", "Count", N, "equal discs on each other"),
)
STEP = (
    Figure("title", "Title", T, "as it stands in the route"),
    Figure("instruction", "Instruction", T, "what is to be done, in a sentence or two"),
    Figure("hold_point", "Hold point", B, "nobody passes it without its evidence"),
    Figure("id", "Short name", T, "small letters, digits and underscores; stays the same"),
)
_LABEL = Figure("label", "Label", T, "what the technician reads beside the field")
_HINT = Figure("hint", "Hint", T, "small, below the field")
_REQUIRED = Figure("required", "Required", B, "the step cannot be signed without it")
MEASURE = (
    _LABEL,
    _c("dimension", "Measured is", "what kind of value", *same(
        "length", "pressure", "force", "torque", "mass", "temperature")),
    Figure("nominal", "Nominal", Q, "left out: it is recorded only"),
    Figure("tolerance", "Tolerance", Q, "how far the value may differ, either way"),
    _c("source", "Read from", "who gives the value", ("typed", "typed by the technician"),
       ("scale", "the scale"), ("gauge", "the gauge")),
    _c("about", "Is the", "what follows from sizes, fill and charge is held against them",
       ("", "told by its label"), *same("floating piston depth", "gas length", "push force"),
       ("own", "value of its own")),
    _c("reference", "Nominal is", "where the nominal comes from", ("", "as stated here"),
       ("push force", "the push force, computed for each unit")),
)  # fmt: skip
TORQUE = (
    _LABEL,
    _q("nominal", "Torque", D.TORQUE, "as set on the wrench"),
    _q("tolerance", "Tolerance", D.TORQUE, "how far it may differ, either way"),
    Figure("tool", "Wrench named", B, "its number is chosen or scanned"),
)
CHOICE = (_LABEL,)
OPTION = (
    Figure("text", "Answer", T, "as it is offered"),
    _c("hold", "Asks for", "what choosing it leads to", ("", "nothing"), ("qa", "QA"),
       ("deviation", "a signed deviation")),
    Figure("id", "Short name", T, "small letters, digits and underscores; stays the same"),
)  # fmt: skip
LINE = (_LABEL, _REQUIRED, _HINT)
CONFIRM = (Figure("label", "Statement", T, "what the technician confirms"),)
PART = (
    Figure("number", "Part number", T, "as on its bag"),
    Figure("name", "Name", T, "what it is"),
    Figure("count", "Count", N, "how many go in"),
    Figure("lot", "Lot named", B, "without it the part is confirmed as fitted"),
)
MATERIAL = (
    _LABEL,
    _c("sort", "Sort", "what is chosen or scanned", *same("kit", "part", "wrench")),
    Figure("number", "Number", T, "which one; empty: any on record"),
    _REQUIRED,
)
PHOTOS = (
    _LABEL,
    Figure("least", "At least", N, "pictures"),
    Figure("most", "At most", N, "pictures"),
    _HINT,
)
STACK = (_c("record", "Stacks", "which of the two", *same("as found", "as built")),)
ZERO = (_c("place", "Zero of", "where the gas must be out", *same("unit", "fill line")),)
SECOND = (_q("after", "After", D.TIME, "least time between the two readings, such as 24 h"),)
NOTE = (
    *LINE,
    Figure("id", "Short name", T, "small letters, digits and underscores; stays the same"),
)

FIGURES: dict[type[Part], tuple[Figure, ...]] = {
    Specification: NAMES,
    Geometry: GEOMETRY,
    OilFill: OIL,
    GasCharge: GAS,
    Service: SERVICE,
    Limits: LIMITS,
    Matching: MATCHING,
    Steadiness: STEADINESS,
    Stacks: STACKS,
    Disc: DISC,
    Step: STEP,
    Measure: MEASURE,
    TorqueOf: TORQUE,
    Choice: CHOICE,
    Option: OPTION,
    FreeText: LINE,
    TextLine: LINE,
    Confirmation: CONFIRM,
    PartLine: PART,
    MaterialInput: MATERIAL,
    Photos: PHOTOS,
    StackInput: STACK,
    ZeroReading: ZERO,
    SecondReading: SECOND,
    NoteField: NOTE,
}
LISTED = {
    Specification: ("steps",),
    Stacks: ("compression", "rebound"),
    Step: ("confirmations", "cautions", "notes", "parts", "stack", "inputs"),
    Choice: ("options",),
    SecondReading: ("by",),
}
"""Fields that are lists, each with buttons of its own."""
TABLES: dict[str, tuple[type[Part], str]] = {
    "measure": (Measure, "Measured value"),
    "torque": (TorqueOf, "Torque"),
    "choose": (Choice, "Choice"),
    "text": (FreeText, "Text"),
    "photos": (Photos, "Photographs"),
    "second": (SecondReading, "Second reading"),
}
"""The table that a step's kind needs, and its title."""
INPUTS: dict[str, tuple[type[Part], str]] = {
    "confirm": (Confirmation, "Statement to confirm"),
    "line": (TextLine, "Line of text"),
    "text": (FreeText, "Text"),
    "quantity": (Measure, "Measured value"),
    "torque": (TorqueOf, "Torque"),
    "choice": (Choice, "Choice"),
    "part": (PartLine, "Part"),
    "material": (MaterialInput, "Kit or material"),
    "stack": (StackInput, "Disc stacks"),
    "photos": (Photos, "Photographs"),
    "zero": (ZeroReading, "Zero of the gauge"),
}
"""Every kind of input by its type in the text."""


def usual(model: type[Part], name: str) -> Any:
    """Return what holds where a field is left out; ``None``: nothing, or it may not be."""
    field = model.model_fields[name]
    return None if field.is_required() else field.default


def may_be_left_out(model: type[Part], name: str) -> bool:
    """Return True when a text need not say it."""
    return not model.model_fields[name].is_required()
