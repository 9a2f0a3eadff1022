"""What the steps of a filed record hold by kind: stacks, photographs, parts, long texts."""

from collections.abc import Iterable, Iterator, Mapping
from typing import TypeVar

from benchstation.domain.disc_stack import AS_BUILT, SIDES, Stack, in_words, merged
from benchstation.domain.inputs.given import Picture
from benchstation.domain.inputs.photos import Photographed
from benchstation.domain.inputs.registry import Evidence
from benchstation.domain.inputs.stack import StackRecorded
from benchstation.domain.unit_record import UnitRecord

R = TypeVar("R")


def of_kind(evidence: Iterable[object], kind: type[R]) -> Iterator[R]:
    """Return the results of one kind."""
    return (result for result in evidence if isinstance(result, kind))


def steps_of(record: UnitRecord) -> Iterator[tuple[str, Evidence]]:
    """Return each step of a record as title and evidence."""
    for step in record.steps:
        yield step.title, step.evidence


def stacks_in(evidence: Iterable[object], record: str) -> dict[str, Stack]:
    """Return the stacks of one record, as found or as built, by side; empty where there is none."""
    found: dict[str, Stack] = {}
    for result in of_kind(evidence, StackRecorded):
        if result.label == record:
            found |= {side: result.side(side) for side in SIDES if result.side(side)}
    return found


def built_in(record: UnitRecord) -> dict[str, Stack]:
    """Return stacks as built, by side, from a filed unit's record; empty where there are none."""
    return stacks_in((r for _, evidence in steps_of(record) for r in evidence), AS_BUILT)


def built_in_words(record: UnitRecord) -> dict[str, str]:
    """Return the stacks as built, by side, in words; equal texts are equal piles of discs."""
    return words_of(built_in(record))


def words_of(stacks: Mapping[str, Stack]) -> dict[str, str]:
    """Return stacks by side in words; equal texts are equal piles of discs."""
    return {
        side: ", ".join(in_words(disc) for disc in merged(stack)) for side, stack in stacks.items()
    }


def photos_in(record: UnitRecord) -> list[tuple[str, Picture]]:
    """Return all photographs that a filed unit's record lists, each with its step's title."""
    return [
        (title, picture)
        for title, evidence in steps_of(record)
        for result in of_kind(evidence, Photographed)
        for picture in result.pictures
    ]
