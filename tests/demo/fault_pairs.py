"""Two faults as one: which can be played in one unit, and what both of them demand together.

A fault replaces a step's usual work. Where both do so at one step, the first of them ends in the
usual work, and there the second one begins.
"""

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from zlib import crc32

from benchstation.demo.air_reading import HERE_FOR
from benchstation.demo.faults import Fault, Script
from benchstation.demo.play import Demand, Outcome, Play, charge_holds_truth, inside

USUAL_FAMILY = "mr-46-front"

ENDS_ITS_STEP = {
    ("overfill", "oil"), ("overfill", "bleed"), ("short-fill", "oil"), ("short-fill", "bleed"),
    ("frozen-gauge", "charge"), ("tick-too-early", "release"), ("screw-open", "seal"),
    ("failed-second-reading", "second"),
}  # fmt: skip
"""Leaves nothing to do at its step, so that no other fault can come after it there."""

LEFT_OUTSIDE = {
    "overfill", "short-fill", "frozen-gauge", "screw-open", "failed-check", "slow-leak",
    "failed-second-reading",
}  # fmt: skip
"""Nobody puts the unit right: what another fault says of one that is right in the end is void."""

GAS_CHANGES_AFTER_THE_CHARGE = {"screw-open", "slow-leak", "failed-second-reading"}
"""The gas of the end is not that of the charge, so a right charge need not hold it."""


BEFORE_THE_OIL = {"intake", "release", "strip"}
TOLD_BEFORE_THE_CAPTURE = {"wrong-lot", "false-empty"}
"""All that is demanded of these at the oil is told before its mass is captured."""

NEEDS_A_CHARGE = {
    "the unit's temperature on record holds the true one within its U",
    "measured at its body, its temperature is on record within its U",
}
"""Said of a charge, and a gauge that hangs may have captured none, or one of what it hangs at:
what is demanded then is its alarm, and that the unit is not passed."""


class Part:
    """The play as one of the two faults has it: notes of its own, and what its usual work is."""

    def __init__(self, play: Play, seen: dict[str, bool], after: Script | None) -> None:
        object.__setattr__(self, "_play", play)
        object.__setattr__(self, "seen", seen)
        object.__setattr__(self, "_after", after)

    def __getattr__(self, name):
        return getattr(self._play, name)

    def __setattr__(self, name, value):
        if name == "_after":
            object.__setattr__(self, name, value)
        else:
            setattr(self._play, name, value)

    def tried(self, name, action):
        """Note a refusal among the notes of this fault."""
        return Play.tried(self, name, action)

    def usual(self) -> Iterator[str]:
        """Play the other fault of this step once; after that, work as usual."""
        after, self._after = self._after, None
        yield from after(self._play) if after is not None else self._play.usual()


def part_script(script: Script, seen: dict[str, bool], after: Script | None = None) -> Script:
    """Return a script that is played as a part."""
    return lambda play: script(Part(play, seen, after))


def family_of(pair: tuple[Fault, Fault]) -> str | None:
    """Return the family both can be played on, or nothing: one of them needs another than one."""
    special = {fault.family for fault in pair} - {USUAL_FAMILY}
    return None if len(special) > 1 else next(iter(special), USUAL_FAMILY)


def against(first: Fault, second: Fault) -> str:
    """Return why a fault cannot be followed by another one in one unit; empty where it can."""
    if family_of((first, second)) is None:
        return "they need units of two families"
    for step in first.scripts.keys() & second.scripts.keys():
        if (first.name, step) in ENDS_ITS_STEP:
            return f"{first.name} leaves nothing to do at '{step}'"
    if "failed-check" in (first.name, second.name):
        other = second if first.name == "failed-check" else first
        if other.name not in TOLD_BEFORE_THE_CAPTURE and other.scripts.keys() - BEFORE_THE_OIL:
            return "a scale that failed its check weighs no oil, so the work ends there"
    if first.name == "slow-leak" and second.name == "drifting-room":
        return "the unit would leak empty in the hours that the room takes to cool"
    if {"slow-leak", "failed-second-reading"} == {first.name, second.name}:
        return "one leaks so that the hold test tells, the other so that it does not"
    return ""


def ordered(pair: tuple[Fault, Fault], seed: int) -> tuple[Fault, Fault] | None:
    """Return the pair in an order drawn by the seed, or in the only one that can be played."""
    orders = [order for order in (pair, pair[::-1]) if not against(*order)]
    chance = random.Random(crc32(f"{seed} {pair[0].name} {pair[1].name}".encode()))
    return chance.choice(orders) if orders else None


def demanded(fault: Fault, other: Fault, seen: dict[str, bool]) -> Iterator[Demand]:
    """Return what a fault still demands beside the other one."""
    # A tight unit that was disturbed may hold undecided: stricter than the pass of one left alone.
    void = {"the hold test passes"}
    if other.name in LEFT_OUTSIDE:
        void.add(inside().words)
    if other.name in GAS_CHANGES_AFTER_THE_CHARGE:
        void.add(charge_holds_truth().words)
    if other.name == "frozen-gauge":
        void |= NEEDS_A_CHARGE | {charge_holds_truth().words}

    def judged(demand: Demand):
        return lambda outcome: demand.met(replace(outcome, seen=seen))

    for demand in fault.demands:
        if demand.words not in void:
            yield Demand(f"{fault.name}: {demand.words}", judged(demand))


def alarms_of_both(pair: tuple[Fault, Fault]) -> Iterator[Demand]:
    """Demand an alarm of its own for each fault that demands one."""
    kinds = Counter(
        demand.words.rpartition(": ")[2]
        for fault in pair
        for demand in fault.demands
        if demand.words.startswith("alarm ")
    )

    def on_record(kind: str, count: int):
        return lambda outcome: [a.kind for a in outcome.alarms].count(kind) >= count

    for kind, count in kinds.items():
        yield Demand(f"{count} alarms on record: {kind}", on_record(kind, count))


def truth_demanded(outcome: Outcome) -> bool:
    """Return True when a unit that the truth has outside is not filed as a plain pass."""
    plain = outcome.filed and outcome.decision == "pass" and not outcome.hold_reasons
    return outcome.truth.inside or not plain


def joined(first: Fault, second: Fault) -> Fault:
    """Return both as one fault: both scripts, and all that both demand."""
    notes = {first.name: dict[str, bool](), second.name: dict[str, bool]()}
    scripts = {s: part_script(script, notes[second.name]) for s, script in second.scripts.items()}
    for step, script in first.scripts.items():
        scripts[step] = part_script(script, notes[first.name], scripts.get(step))
    family = family_of((first, second))
    assert family is not None
    return Fault(
        f"{first.name}+{second.name}",
        f"{first.title}; {second.title}",
        scripts,
        (
            *demanded(first, second, notes[first.name]),
            *demanded(second, first, notes[second.name]),
            *alarms_of_both((first, second)),
            Demand("no unit outside by the truth is filed as a plain pass", truth_demanded),
        ),
        family,
        here_for=HERE_FOR if first.here_for and second.here_for else "",
    )
