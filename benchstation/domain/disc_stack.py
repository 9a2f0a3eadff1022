"""Disc stacks as found and as built: read from text, compared with what was specified or before."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from enum import StrEnum
from typing import Any

from pydantic import ValidationError

from benchstation.domain.events import Event, StepSigned
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Specification, StepKind
from benchstation.domain.step_content import Disc
from benchstation.domain.unit_commands import NotAllowedError, form_evidence, require_step
from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import Dimension, parse
from benchstation.quantities.validation_messages import in_words as misfit_in_words

SIDES = ("compression", "rebound")
AS_FOUND, AS_BUILT = "as found", "as built"
STACKS = "stacks"
"""Evidence under this name: record, then side, then discs from the piston."""
DIFFERENCES = "differences"
"""Evidence under this name: what as built differs from the specification in, in words."""
UNIT, MOST_ROWS = "mm", 60
LONGEST_TEXT = 20_000
SAME_M = 1e-6
"""Sizes are the same when they agree to the micrometre."""

Stack = tuple[Disc, ...]


class Mark(StrEnum):
    """How a disc differs from what it is compared with."""

    SAME = "same"
    ADDED = "added"
    REMOVED = "removed"
    CHANGED = "changed"


@dataclass(frozen=True, slots=True)
class Difference:
    """One row of two stacks laid side by side."""

    mark: Mark
    was: Disc | None
    now: Disc | None


def field_id(record: str, side: str) -> str:
    """Return the id of the field of one stack."""
    return f"{record.replace(' ', '_')}_{side}"


def specified(specification: Specification, side: str) -> Stack:
    """Return a stack as specified; nothing where none is."""
    stacks = specification.stacks
    if stacks is None:
        return ()
    return stacks.compression if side == "compression" else stacks.rebound


def height_m(stack: Sequence[Disc]) -> float:
    """Return the height of all discs on each other."""
    return sum(disc.height_m for disc in stack)


def disc_count(stack: Sequence[Disc]) -> int:
    """Return how many discs there are."""
    return sum(disc.count for disc in stack)


def as_text(stack: Sequence[Disc]) -> str:
    """Return a stack as the editor's text: JSON rows of diameter, thickness, count, in mm."""

    def number(metres: float) -> str:
        return f"{metres * 1e3:.3f}".rstrip("0").rstrip(".")

    rows = [[number(d.outer), number(d.thickness), str(d.count)] for d in stack]
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
    stack: list[Disc] = []
    for place, row in enumerate(rows_of(text), 1):
        if not any(row):
            continue
        try:
            outer, thickness = (parse(c, Dimension.LENGTH, default_unit=UNIT) for c in row[:2])
            if not row[2].isascii() or not row[2].isdigit():
                raise ValueError("the count is no whole number")
            stack.append(Disc(outer=outer, thickness=thickness, count=int(row[2][:6])))
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
        return misfit_in_words(error)
    return str(error)


def _size(disc: Disc) -> tuple[int, int]:
    return round(disc.outer / SAME_M), round(disc.thickness / SAME_M)


def merged(stack: Sequence[Disc]) -> Stack:
    """Return the same pile with equal neighbours in one row."""
    rows: list[Disc] = []
    for disc in stack:
        if rows and _size(rows[-1]) == _size(disc):
            rows[-1] = rows[-1].model_copy(update={"count": rows[-1].count + disc.count})
        else:
            rows.append(disc)
    return tuple(rows)


def compared(was: Sequence[Disc], now: Sequence[Disc]) -> tuple[Difference, ...]:
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


def same(was: Sequence[Disc], now: Sequence[Disc]) -> bool:
    """Say whether two stacks are the same pile of discs."""
    return all(d.mark is Mark.SAME for d in compared(was, now))


def in_words(disc: Disc) -> str:
    """Return a disc as count, diameter and thickness."""
    (row,) = json.loads(as_text([disc]))
    return f"{row[2]} of {row[0]} × {row[1]} {UNIT}"


def differences_in_words(was: Sequence[Disc], now: Sequence[Disc]) -> list[str]:
    """Say disc by disc what was added, removed or changed."""
    words = []
    for row in compared(was, now):
        if row.mark is Mark.ADDED and row.now:
            words.append(f"added {in_words(row.now)}")
        elif row.mark is Mark.REMOVED and row.was:
            words.append(f"removed {in_words(row.was)}")
        elif row.mark is Mark.CHANGED and row.now and row.was:
            words.append(f"{in_words(row.now)} instead of {in_words(row.was)}")
    return words


def height_in_words(stack: Sequence[Disc]) -> str:
    """Return number of discs and total height in mm."""
    count = disc_count(stack)
    return f"{count} disc{'' if count == 1 else 's'}, {height_m(stack) * 1e3:.2f} mm high"


def sign_stack(rebuild: Rebuild, fields: Mapping[str, str]) -> list[Event]:
    """Sign the stacks of this step: as found is recorded, as built must be as specified.

    A stack as built that differs is signed only after a deviation.
    """
    step = require_step(rebuild, StepKind.STACK)
    recorded: dict[str, dict[str, list[dict[str, Any]]]] = {}
    said: list[str] = []
    differs: list[str] = []
    for record in step.stack:
        if len(step.stack) > 1:
            said.append(record)
        recorded[record] = {}
        for side in SIDES:
            where = f"{side}, {record}"
            text = fields.get(field_id(record, side), "")
            stack = parsed_stack(text, where)
            if not stack:
                raise NotAllowedError(
                    f"still to do: {where}.",
                    where=step.title,
                    advice="Enter the discs from the piston outwards, or start from what is known.",
                )
            recorded[record][side] = [disc.model_dump(mode="json") for disc in stack]
            said.append(f"{side} {height_in_words(stack)}")
            words = differences_in_words(specified(rebuild.specification, side), stack)
            if record == AS_BUILT:
                differs += [f"{side}: {word}" for word in words]
    if differs and not rebuild.deviated(step.id):
        raise NotAllowedError(
            f"as built differs from the specification: {'; '.join(differs)}.",
            where=step.title,
            advice="Build it as specified, or have a lead accept it as a deviation.",
        )
    evidence: dict[str, Any] = {**form_evidence(step, fields), STACKS: recorded}
    if differs:
        evidence[DIFFERENCES] = differs
        said.append(f"accepted as a deviation: {'; '.join(differs)}")
    elif AS_BUILT in step.stack:
        said.append("as specified")
    return [StepSigned(rebuild.unit_id, step.id, "; ".join(said), evidence)]


def stack_in(evidence: Mapping[str, Any], record: str, side: str) -> Stack:
    """Return a stack that a signature's evidence holds; nothing where it holds none."""
    try:
        return tuple(Disc.model_validate(row) for row in evidence[STACKS][record][side])
    except (KeyError, TypeError, ValidationError):
        return ()


def differences_in(evidence: Mapping[str, Any]) -> list[str]:
    """Return what a signature's evidence says that the specification does not."""
    listed = evidence.get(DIFFERENCES)
    return [str(word) for word in listed] if isinstance(listed, list | tuple) else []


def built_in(record: Mapping[str, Any]) -> dict[str, Stack]:
    """Return stacks as built, by side, from a filed unit's record; empty where there are none."""
    found: dict[str, Stack] = {}
    for step in record.get("steps", ()):
        for side in SIDES:
            stack = stack_in(step.get("evidence", {}), AS_BUILT, side)
            if stack:
                found[side] = stack
    return found


def built_in_words(record: Mapping[str, Any]) -> dict[str, str]:
    """Return the stacks as built, by side, in words; equal texts are equal piles of discs."""
    stacks = built_in(record).items()
    return {side: ", ".join(in_words(disc) for disc in merged(stack)) for side, stack in stacks}
