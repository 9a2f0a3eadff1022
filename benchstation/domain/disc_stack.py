"""Disc stacks: specified, read from text, compared with what was specified or before, in words."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from enum import StrEnum
from typing import Annotated

from pydantic import Field, ValidationError

from benchstation.domain.content import Length, NotNegative, Part, Recorded
from benchstation.domain.refusals import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.quantities.notation import fixed
from benchstation.quantities.units import Dimension, UnitSystem, decimals_that_tell, parse, shown
from benchstation.quantities.validation_messages import in_words as failure_in_words

SIDES = ("compression", "rebound")
AS_FOUND, AS_BUILT = "as found", "as built"
UNIT, MOST_ROWS = "mm", 60
HEIGHT_STEP_M = 1e-5
"""A height is as fine as the discs are."""
LONGEST_TEXT = 20_000
SAME_M = 1e-6
"""Sizes are the same when they agree to the micrometre."""


class Disc(Part):
    """Equal discs that lie on each other, m."""

    outer: Annotated[Length, Field(gt=0, le=0.3, allow_inf_nan=False)]
    thickness: Annotated[Length, Field(gt=0, le=0.02, allow_inf_nan=False)]
    count: int = Field(default=1, ge=1, le=100)

    @property
    def row(self) -> "DiscRow":
        """Return the discs as they go on record."""
        return DiscRow(self.outer, self.thickness, self.count)


@dataclass(frozen=True, slots=True)
class DiscRow(Recorded):
    """Equal discs that lie on each other, as they go on record."""

    outer_m: float
    thickness_m: float
    count: int = 1

    @property
    def height_m(self) -> float:
        """Height of all of them."""
        return self.thickness_m * self.count


Stack = tuple[DiscRow, ...]


class Stacks(Part):
    """Both disc stacks as specified, in order from the piston."""

    compression: tuple[Disc, ...] = Field(min_length=1, max_length=60)
    rebound: tuple[Disc, ...] = Field(min_length=1, max_length=60)
    hub: Annotated[Length, NotNegative] = 0.0
    """Inner diameter that the discs sit on, for the drawing; 0: not known."""

    def require_fits(self, bore_m: float) -> None:
        """Raise ``ValueError`` for a disc that is wider than the tube or narrower than its seat."""
        for name, discs in (("compression", self.compression), ("rebound", self.rebound)):
            for place, disc in enumerate(discs, 1):
                where = f"stacks.{name}, row {place}: {fixed(disc.outer * 1e3, 2)} mm"
                if disc.outer >= bore_m:
                    raise ValueError(f"{where} is not narrower than the bore")
                if disc.outer <= self.hub:
                    raise ValueError(f"{where} is not wider than the hub")


class Mark(StrEnum):
    """How a disc differs from what it is compared with."""

    SAME = "same"
    ADDED = "added"
    REMOVED = "removed"
    CHANGED = "changed"


@dataclass(frozen=True, slots=True)
class Difference(Recorded):
    """One row of two stacks laid side by side."""

    mark: Mark
    was: DiscRow | None
    now: DiscRow | None


def specified(stacks: Stacks | None, side: str) -> Stack:
    """Return a stack as specified; nothing where none is."""
    if stacks is None:
        return ()
    return tuple(d.row for d in (stacks.compression if side == "compression" else stacks.rebound))


def height_m(stack: Sequence[DiscRow]) -> float:
    """Return the height of all discs on each other."""
    return sum(disc.height_m for disc in stack)


def disc_count(stack: Sequence[DiscRow]) -> int:
    """Return how many discs there are."""
    return sum(disc.count for disc in stack)


def as_text(stack: Sequence[DiscRow]) -> str:
    """Return a stack as the editor's text: JSON rows of diameter, thickness, count, in mm."""

    def number(metres: float) -> str:
        return fixed(metres * 1e3, 3).rstrip("0").rstrip(".")

    rows = [[number(d.outer_m), number(d.thickness_m), str(d.count)] for d in stack]
    return json.dumps(rows)


def rows_of(text: str) -> list[list[str]]:
    """Return the rows of the editor's text, each of three cells; raises for anything else."""
    try:
        rows = json.loads(text[: LONGEST_TEXT + 1] or "[]")
    except (ValueError, RecursionError) as error:
        raise _unreadable() from error
    shaped = isinstance(rows, list) and all(
        isinstance(row, list) and len(row) == 3 and all(isinstance(cell, str) for cell in row)
        for row in rows
    )
    if not shaped or len(rows) > MOST_ROWS:
        raise _unreadable()
    return [[cell.strip() for cell in row] for row in rows]


def _unreadable() -> NotAllowedError:
    return NotAllowedError(
        f"this is no list of discs, or has more than {MOST_ROWS} rows.", where="disc stack"
    )


def parsed_stack(text: str, where: str) -> Stack:
    """Return the discs of the editor's text, in mm or with a unit; an empty row is left out.

    A number means mm whatever units are shown: discs are measured so, and a switch of the display
    must not change what stands in the form.

    Raises :class:`NotAllowedError` naming the row that is wrong.
    """
    stack: list[DiscRow] = []
    for place, row in enumerate(rows_of(text), 1):
        if not any(row):
            continue
        try:
            outer, thickness = (parse(c, Dimension.LENGTH, default_unit=UNIT) for c in row[:2])
            if not row[2].isascii() or not row[2].isdigit():
                raise ValueError("the count is no whole number")
            disc = Disc(outer=outer, thickness=thickness, count=int(row[2][:6]))
            stack.append(disc.row)
        except (StationError, ValueError) as error:
            raise NotAllowedError(
                f"row {place} of {where}: {_reason(error)}.",
                where=where,
                advice="Diameter up to 300 mm, thickness up to 20 mm, count 1 to 100.",
            ) from error
    return tuple(stack)


def _reason(error: Exception) -> str:
    if isinstance(error, StationError):
        return error.what.rstrip(".")
    if isinstance(error, ValidationError):
        return failure_in_words(error)
    return str(error)


def _size(disc: DiscRow) -> tuple[int, int]:
    return round(disc.outer_m / SAME_M), round(disc.thickness_m / SAME_M)


def merged(stack: Sequence[DiscRow]) -> Stack:
    """Return the same pile with equal neighbours in one row."""
    rows: list[DiscRow] = []
    for disc in stack:
        if rows and _size(rows[-1]) == _size(disc):
            rows[-1] = replace(rows[-1], count=rows[-1].count + disc.count)
        else:
            rows.append(disc)
    return tuple(rows)


def compared(was: Sequence[DiscRow], now: Sequence[DiscRow]) -> tuple[Difference, ...]:
    """Lay two stacks side by side, in order from the piston."""
    before, after = merged(was), merged(now)
    sizes = SequenceMatcher(
        None, [_size(d) for d in before], [_size(d) for d in after], autojunk=False
    )
    rows: list[Difference] = []
    for kind, a, b, c, d in sizes.get_opcodes():
        gone, new = list(before[a:b]), list(after[c:d])
        if kind == "equal":
            rows += [
                Difference(Mark.SAME if x.count == y.count else Mark.CHANGED, x, y)
                for x, y in zip(gone, new, strict=True)
            ]
            continue
        both = min(len(gone), len(new))
        pairs = zip(gone[:both], new[:both], strict=True)
        rows += [Difference(Mark.CHANGED, x, y) for x, y in pairs]
        rows += [Difference(Mark.REMOVED, x, None) for x in gone[both:]]
        rows += [Difference(Mark.ADDED, None, y) for y in new[both:]]
    return tuple(rows)


def same(was: Sequence[DiscRow], now: Sequence[DiscRow]) -> bool:
    """Return True when two stacks are the same pile of discs."""
    return all(d.mark is Mark.SAME for d in compared(was, now))


def in_words(disc: DiscRow) -> str:
    """Return a disc as count, diameter and thickness."""
    (row,) = json.loads(as_text([disc]))
    return f"{row[2]} of {row[0]} × {row[1]} {UNIT}"


def differences_in_words(was: Sequence[DiscRow], now: Sequence[DiscRow]) -> list[str]:
    """Return what was added, removed or changed, disc by disc."""
    return said_of(compared(was, now))


def said_of(differences: Iterable[Difference]) -> list[str]:
    """Return each difference in words; equal stacks give none."""
    words = []
    for row in differences:
        if row.mark is Mark.ADDED and row.now:
            words.append(f"added {in_words(row.now)}")
        elif row.mark is Mark.REMOVED and row.was:
            words.append(f"removed {in_words(row.was)}")
        elif row.mark is Mark.CHANGED and row.now and row.was:
            words.append(f"{in_words(row.now)} instead of {in_words(row.was)}")
    return words


def height_in_words(stack: Sequence[DiscRow], system: UnitSystem = UnitSystem.METRIC) -> str:
    """Return number of discs and total height; discs themselves are mm in every display."""
    count = disc_count(stack)
    decimals = decimals_that_tell(HEIGHT_STEP_M, Dimension.LENGTH, system)
    high = shown(height_m(stack), Dimension.LENGTH, system, decimals=decimals)
    return f"{count} disc{'' if count == 1 else 's'}, {high} high"
