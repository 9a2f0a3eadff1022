"""Evidence as it was written before results had types: one mapping by label and by keys of ours.

An author's label could be one of our keys then. What is told apart by its form, or by the sentence
that the program put beside it, becomes a result of its type; all else stays label and text.
"""

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import asdict, fields
from typing import Any

from benchstation.domain.disc_stack import AS_BUILT, AS_FOUND, Difference, DiscRow, Mark
from benchstation.domain.inputs.charge import ChargeSigned
from benchstation.domain.inputs.choice import Chosen, Hold
from benchstation.domain.inputs.confirmation import Confirmed
from benchstation.domain.inputs.given import Picture, PushForce, Taken
from benchstation.domain.inputs.line import Noted
from benchstation.domain.inputs.oil import OilSigned
from benchstation.domain.inputs.part import PartFitted
from benchstation.domain.inputs.photos import Photographed
from benchstation.domain.inputs.quantity import Measured
from benchstation.domain.inputs.registry import Result
from benchstation.domain.inputs.said import Said
from benchstation.domain.inputs.stack import SideDifference, StackRecorded
from benchstation.domain.inputs.text import Written
from benchstation.domain.inputs.torque import Tightened
from benchstation.domain.inputs.zero import ZeroRead

CONFIRMED = "confirmed"
_BY_WORD = "fill line let down by word alone: "
_NO_READING = "no gauge reading"
_ACCEPTED = ", accepted as a deviation"
_SUMMARY = 80
_MEASURED = {
    "measured_m": "length",
    "measured_gauge_pa": "pressure",
    "measured_n": "force",
    "measured_n_m": "torque",
    "measured_kg": "mass",
    "measured_k": "temperature",
}
_READING = ("std", "count", "instrument_id", "raw", "source")
_OIL = re.compile(r"(poured|net) .* g, (\w+)(, by hand)?")
_CHARGE = re.compile(r"(-?[\d.]+) bar gauge( by hand)?, (\w+); hold (\w+)")
_DISCS = r"(\d+) of ([\d.]+) × ([\d.]+) mm"
_DIFFERENCE = re.compile(rf"(\w+): (added |removed )?{_DISCS}(?: instead of {_DISCS})?")

Old = dict[str, Any]


def evidence_of_mapping(evidence: Mapping[str, Any], summary: str = "") -> list[dict[str, Any]]:
    """Return what a signature's mapping says as results, JSON-ready; nothing of it is lost."""
    rest = dict(evidence)
    said = [Said(summary)] if summary not in ("", CONFIRMED) else []
    typed = [result for read in _READERS for result in read(rest, summary)]
    counts: dict[str, int] = {}

    def name(noun: str) -> str:
        counts[noun] = counts.get(noun, 0) + 1
        return f"{noun}{counts[noun]}"

    texts: list[Result] = []
    for label, value in rest.items():
        if value == CONFIRMED:
            texts.append(Confirmed(name("confirm"), label))
        else:
            text = value if isinstance(value, str) else json.dumps(value)
            texts.append(Noted(name("note"), label, text))
    return [asdict(result) for result in (*said, *typed, *texts)]


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _zero(rest: Old, _: str) -> Iterator[Result]:
    line = rest.get("line")
    if _is_number(rest.get("gauge_pa")) and _is_number(rest.get("band_pa")):
        gauge, band = rest.pop("gauge_pa"), rest.pop("band_pa")
        yield ZeroRead("zero1", "", gauge, band, str(rest.pop("instrument_id", "")))
    elif isinstance(line, str) and line.startswith(_BY_WORD):
        doubt = rest.pop("line").removeprefix(_BY_WORD)
        yield ZeroRead(
            "zero1", "fill line", None, None, doubt="" if doubt == _NO_READING else doubt
        )


def _measured(rest: Old, _: str) -> Iterator[Result]:
    key = next((k for k in _MEASURED if _is_number(rest.get(k))), None)
    if key is None:
        return
    value = rest.pop(key)
    limits = {k: rest.pop(k) for k in ("nominal", "tolerance") if _is_number(rest.get(k))}
    if key == "measured_n_m" and len(limits) == 2 and isinstance(rest.get("tool"), str):
        yield Tightened("torque1", "", value, **limits, tool=rest.pop("tool"))
        return
    reading, source = None, "typed"
    if all(k in rest for k in _READING) and _is_number(rest["std"]):
        std, count, instrument, raw, source = (rest.pop(k) for k in _READING)
        reading = Taken(value, std, count, instrument, raw)
    expected = PushForce(**rest.pop("expected")) if _is_force(rest.get("expected")) else None
    of: Any = _MEASURED[key]
    yield Measured(
        "value1", "", value, of, **limits, source=source, reading=reading, expected=expected
    )


def _is_force(value: object) -> bool:
    return isinstance(value, Mapping) and set(value) == {field.name for field in fields(PushForce)}


def _chosen(rest: Old, summary: str) -> Iterator[Result]:
    text, option = rest.get("chosen"), rest.get("choice")
    plain = summary.removesuffix(_ACCEPTED)
    if not isinstance(text, str) or not isinstance(option, str) or not plain.endswith(f": {text}"):
        return
    hold = Hold.DEVIATION if plain != summary else Hold.NONE
    if rest.get("qa_hold") == plain:
        # A label of that name kept its own text, which is another one.
        hold = Hold.QA
        del rest["qa_hold"]
    del rest["chosen"], rest["choice"]
    yield Chosen("choice1", plain.removesuffix(f": {text}"), option, text, hold)


def _written(rest: Old, summary: str) -> Iterator[Result]:
    text = rest.get("text")
    if not isinstance(text, str):
        return
    line = " / ".join(part for part in text.split("\n") if part)
    short = line if len(line) <= _SUMMARY else f"{line[: _SUMMARY - 1].rstrip()}…"
    if summary == (short or "nothing to note"):
        yield Written("text1", "", rest.pop("text"))


def _parts(rest: Old, _: str) -> Iterator[Result]:
    listed = rest.get("parts")
    if not isinstance(listed, list | tuple):
        return
    if not all(isinstance(p, Mapping) and isinstance(p.get("number"), str) for p in listed):
        return
    for place, part in enumerate(rest.pop("parts"), 1):
        yield PartFitted(
            f"lot{place}",
            str(part.get("name", "")),
            part["number"],
            int(part.get("count", 1)),
            str(part.get("lot", "")),
            bool(part.get("missing", False)),
        )


def _stacks(rest: Old, _: str) -> Iterator[Result]:
    stacks, said = rest.get("stacks"), rest.get("differences", [])
    if not isinstance(stacks, Mapping) or not isinstance(said, list | tuple):
        return
    if not set(stacks) <= {AS_FOUND, AS_BUILT}:
        return
    try:
        differences = tuple(_difference(str(word)) for word in said)
        found = [
            StackRecorded(
                f"stack{place}",
                record,
                tuple(_row(d) for d in sides["compression"]),
                tuple(_row(d) for d in sides["rebound"]),
                differences if record == AS_BUILT else (),
            )
            for place, (record, sides) in enumerate(stacks.items(), 1)
        ]
    except (KeyError, TypeError, ValueError):
        return
    del rest["stacks"]
    rest.pop("differences", None)
    yield from found


def _row(disc: Mapping[str, Any]) -> DiscRow:
    return DiscRow(float(disc["outer"]), float(disc["thickness"]), int(disc["count"]))


def _difference(said: str) -> SideDifference:
    """Return a difference from the sentence that was made of it; raise for any other sentence."""
    match = _DIFFERENCE.fullmatch(said)
    if match is None:
        raise ValueError(said)
    side, mark, *numbers = match.groups()
    rows = [
        DiscRow(float(numbers[n + 1]) / 1e3, float(numbers[n + 2]) / 1e3, int(numbers[n]))
        for n in (0, 3)
        if numbers[n] is not None
    ]
    if mark == "removed ":
        return SideDifference(side, Difference(Mark.REMOVED, rows[0], None))
    if mark == "added ":
        return SideDifference(side, Difference(Mark.ADDED, None, rows[0]))
    return SideDifference(side, Difference(Mark.CHANGED, rows[1], rows[0]))


def _photos(rest: Old, _: str) -> Iterator[Result]:
    listed = rest.get("photos")
    if not isinstance(listed, list | tuple):
        return
    if not all(isinstance(p, Mapping) and "sha256" in p for p in listed):
        return
    pictures = tuple(
        Picture(p["sha256"], int(p["size_bytes"]), p["media_type"], p.get("caption", ""))
        for p in rest.pop("photos")
    )
    yield Photographed("photos1", "", pictures)


def _captured(rest: Old, summary: str) -> Iterator[Result]:
    oil, charge = _OIL.fullmatch(summary), _CHARGE.fullmatch(summary)
    if oil is not None and rest.get("decision") == oil[2]:
        del rest["decision"]
        stage: Any = oil[1]
        yield OilSigned("oil1", stage, None, oil[2], bool(oil[3]))
    elif charge is not None and (rest.get("charge"), rest.get("hold")) == (charge[3], charge[4]):
        del rest["charge"], rest["hold"]
        yield ChargeSigned("charge1", None, charge[3], charge[4], bool(charge[2]))


_READERS = (_zero, _measured, _chosen, _written, _parts, _stacks, _photos, _captured)
