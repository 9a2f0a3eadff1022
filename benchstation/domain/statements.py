"""What the program says on record: a code with its values, never a sentence.

Sentences are made where a statement is shown (``statement_words``), so that they can be in the
reader's units and language. What a person typed is text and stays text.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import ClassVar, Self

from pydantic import ConfigDict


class Code(StrEnum):
    """What a statement says. A code that was released keeps its meaning and its values."""

    TEXT = "text"
    """``text``: a sentence of before there were codes, or one of a device."""

    # Why a tare no longer holds, or oil may have been moved that no mass holds.
    SCALE_FREE = "scale_free"
    OTHER_LOT = "other_lot"
    RESTARTED = "restarted"
    READ_BY_HAND = "read_by_hand"
    OTHER_METHOD = "other_method"
    OTHER_SCALE = "other_scale"
    TOP_UP = "top_up"
    SPILL = "spill"
    OTHER_WEIGHING = "other_weighing"
    WEIGHED_AGAIN = "weighed_again"
    TARED_AGAIN = "tared_again"
    SET_ASIDE = "set_aside"
    STEP_LEFT = "step_left"
    GONE_BACK = "gone_back"
    """Before a step that captured oil: its mass counts no more, and its oil was moved."""
    GIVEN_UP = "given_up"
    """A captured mass is weighed again: it is to count no more, and its oil was moved."""
    LOAD_CHANGED_UNTARED = "load_changed_untared"
    LOAD_CHANGED_TARING = "load_changed_taring"
    LINE_LOST = "line_lost"
    """``detail``: what the system said, where it said something."""
    NO_READING = "no_reading"
    """``seconds``: for how long."""
    UNIT_CHANGED = "unit_changed"
    """``before``, ``after``: the unit of the instrument's readings."""
    CALIBRATED = "calibrated"
    INSTRUMENT_FAULT = "instrument_fault"
    """``fault``: its kind."""

    # What a signed deviation accepts.
    STEP_RESULT = "step_result"
    """``title`` of the step; ``lot``, ``lot_reason``: of a lot that was withdrawn meanwhile."""
    SET_MATCH = "set_match"
    """As ``STEP_RESULT`` without the title: the unit does not match its set."""
    CAN_NOT_SCANNED = "can_not_scanned"
    """As ``STEP_RESULT`` without the title: nobody read the lot off the can of oil."""
    LOT_WITHDRAWN = "lot_withdrawn"
    """``lot`` in the unit was withdrawn since, for the reason ``lot_reason``."""
    GAS_UNPROVEN = "gas_unproven"
    """As ``STEP_RESULT`` without the title: nothing proves that the gas is in the sealed unit."""

    # Why QA must look at a unit.
    DEVIATION = "deviation"
    """``of``: the code of what was accepted; with its values."""
    HIGH_LIMIT = "high_limit"
    CHOSEN = "chosen"
    """``label`` of a choice and ``text`` of the option, as the specification has them."""
    OIL_BY_HAND = "oil_by_hand"
    CHARGE_BY_HAND = "charge_by_hand"
    LINE_BY_WORD = "line_by_word"
    """No fit gauge saw the fill line fall to zero."""
    UNWEIGHED_OIL = "unweighed_oil"
    SIGNED_WHILE_LOCKED = "signed_while_locked"
    """``person``: signed here after the shop had taken that person off, or, with the ``roles``
    that were left, another role that this needed."""
    OLDER_REVISION = "older_revision"
    """``revision`` that it was built on, after ``newer`` was in force in the shop."""
    OTHER_REVISION = "other_revision"
    """``revision``: as it was approved at the bench; the shop's of this number is another."""
    LINE_TAKEN_TWICE = "line_taken_twice"
    """``order``: another bench had started a unit for the same line of it."""
    ONE_SIGNATURE = "one_signature"
    """Released by one person where the shop has two do it."""
    INSTRUMENT_FAILED = "instrument_failed"
    """``instrument`` by its title: it failed a check after it had measured this unit."""
    CLOCK_RAN_BACK = "clock_ran_back"
    """While the unit was worked on the computer's clock was set back: its times are in doubt."""
    CLOCK_SET_FORWARD = "clock_set_forward"
    """While the unit was worked on or waited the clock was set forward: it waited less long."""
    RECORDS_LACK = "records_lack"
    """While the unit was worked on the records were put back: entries about it may be missing."""

    # How results are judged.
    GUARDED_ACCEPTANCE = "guarded_acceptance"
    """``guard_factor``: the guard band in standard uncertainties; 0: simple acceptance."""


@dataclass(frozen=True, slots=True)
class Statement:
    """One statement of the program; ``values`` are SI numbers, ids, and texts of others."""

    __pydantic_config__: ClassVar[ConfigDict] = ConfigDict(extra="forbid")
    code: Code
    values: Mapping[str, str | float] = field(default_factory=dict)

    @classmethod
    def of(cls, code: Code, **values: str | float) -> Self:
        """Return the statement of ``code`` with ``values``."""
        return cls(code, values)


class Gas(StrEnum):
    """What is known of the gas in a unit that leaves the bench."""

    CHARGED = "charged"
    UNPROVEN = "unproven"
    PROVEN_OUT = "proven_out"


class Undone(StrEnum):
    """What a person confirms before a tare that would hide oil which no mass holds."""

    TAKEN_OUT = "taken_out"
    PUT_BACK = "put_back"
