"""What each kind of result says on a certificate, in a record and on the route, in one line."""

from collections.abc import Callable, Iterable
from typing import Any

from benchstation.domain.disc_stack import AS_BUILT, height_in_words, said_of
from benchstation.domain.inputs.charge import ChargeSigned
from benchstation.domain.inputs.choice import Chosen, Hold
from benchstation.domain.inputs.confirmation import Confirmed
from benchstation.domain.inputs.limits import Limits, in_words
from benchstation.domain.inputs.line import Noted
from benchstation.domain.inputs.material import MaterialTaken
from benchstation.domain.inputs.oil import OilSigned
from benchstation.domain.inputs.part import PartFitted
from benchstation.domain.inputs.photos import Photographed
from benchstation.domain.inputs.quantity import Measured
from benchstation.domain.inputs.registry import Result
from benchstation.domain.inputs.said import Said
from benchstation.domain.inputs.second_reading import SecondSigned
from benchstation.domain.inputs.stack import StackRecorded
from benchstation.domain.inputs.text import Written
from benchstation.domain.inputs.torque import Tightened
from benchstation.domain.inputs.zero import UNIT, ZeroRead
from benchstation.domain.materials import Standing, Supplied
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import Dimension

LONGEST = 80
"""A text longer than this stands in full elsewhere."""
NOT_SEEN = "not seen by the gauge: by two statements of the person"
BY_WORD = "fill line vented by word alone"
ACCEPTED = "accepted as a deviation"


def evidence_in_words(evidence: Iterable[Result], words: QuantityFormatter) -> str:
    """Return what a signature rests on; ``confirmed`` where it only confirms statements."""
    results = tuple(evidence)
    then = [result.text for result in results if isinstance(result, Said)]
    if then:
        return "; ".join(then)
    told = [(result, WORDS[type(result)](result, words)) for result in results]
    told = [(result, text) for result, text in told if text]
    if len(told) > 1:
        # Alone, the step's title says what was measured; beside others its label must.
        told = [(r, f"{r.label}: {t}" if type(r) in _BY_TITLE else t) for r, t in told]
    return "; ".join(text for _, text in told) or "confirmed"


def statements(evidence: Iterable[Result]) -> list[str]:
    """Return the statements that were confirmed."""
    return [result.label for result in evidence if isinstance(result, Confirmed)]


def differences(stack: StackRecorded) -> list[str]:
    """Return how a stack differs from the specification."""
    return [f"{d.side}: {said}" for d in stack.differences for said in said_of([d.difference])]


def _measured(value: float, dimension: Dimension, limits: Limits | None, system: Any) -> str:
    said = in_words(value, dimension, system)
    if limits is None:
        return said
    said += f", specified {limits.in_words(system)}"
    return said if limits.holds(value) else f"{said}, {ACCEPTED}"


def _quantity(result: Measured, words: QuantityFormatter) -> str:
    of = Dimension(result.dimension)
    return _measured(result.value, of, result.limits, words.system)


def _torque(result: Tightened, words: QuantityFormatter) -> str:
    said = _measured(result.torque_n_m, Dimension.TORQUE, result.limits, words.system)
    return f"{said}, wrench {result.tool}{_accepted(result.supplied)}" if result.tool else said


def _accepted(supplied: Supplied | None) -> str:
    """Return what a deviation accepted of a material; empty: it was in order."""
    if supplied is None or supplied.standing is Standing.OPEN:
        return ""
    return f" ({supplied.standing}, {ACCEPTED})"


def _material(result: MaterialTaken, _: QuantityFormatter) -> str:
    return f"{result.label} {result.lot}{_accepted(result.supplied)}"


def _line(result: Noted, _: QuantityFormatter) -> str:
    return f"{result.label}: {result.text}"


def _text(result: Written, _: QuantityFormatter) -> str:
    said = " / ".join(line for line in result.text.splitlines() if line)
    short = said if len(said) <= LONGEST else f"{said[: LONGEST - 1].rstrip()}…"
    return short or "nothing to note"


def _choice(result: Chosen, _: QuantityFormatter) -> str:
    said = f"{result.label}: {result.text}"
    return f"{said}, {ACCEPTED}" if result.hold is Hold.DEVIATION else said


def _part(result: PartFitted, _: QuantityFormatter) -> str:
    if result.missing:
        return f"{result.label} missing, {ACCEPTED}"
    return f"{result.label} {result.lot or 'fitted'}{_accepted(result.supplied)}"


def _stack(result: StackRecorded, words: QuantityFormatter) -> str:
    sides = (("compression", result.compression), ("rebound", result.rebound))
    said = [f"{side} {height_in_words(stack, words.system)}" for side, stack in sides]
    if result.differences:
        said.append(f"{ACCEPTED}: {', '.join(differences(result))}")
    elif result.label == AS_BUILT:
        said.append("as specified")
    return f"{result.label}: {'; '.join(said)}"


def _photos(result: Photographed, _: QuantityFormatter) -> str:
    count = len(result.pictures)
    said = f"{count} photograph{'' if count == 1 else 's'}"
    captions = ", ".join(p.caption for p in result.pictures if p.caption)
    said = f"{said}: {captions}" if captions else said
    return f"{said}, {ACCEPTED}" if count < result.least else said


def _zero(result: ZeroRead, words: QuantityFormatter) -> str:
    if result.gauge_pa is None:
        return f"{BY_WORD}: {result.doubt or 'no gauge reading'}"
    said = words.gauge(result.gauge_pa, 2)
    if result.label != UNIT:
        if result.seen is None:
            return said
        return f"{'seen to fall' if result.seen else 'not seen to fall'}, {said}"
    told = (
        []
        if result.found_gauge_pa is None
        else [f"as found {words.gauge(result.found_gauge_pa, 2)}"]
    )
    if result.seen is not None:
        told.append("seen to fall" if result.seen else NOT_SEEN)
    if result.doubt:
        told.append(result.doubt)
    return ", ".join([*told, said, "rod stays in"])


def _oil(result: OilSigned, words: QuantityFormatter) -> str:
    mass = "" if result.net_shown_kg is None else f" {words.mass(result.net_shown_kg, 1)}"
    return f"{result.label}{mass}, {result.decision}{', by hand' if result.by_hand else ''}"


def _charge(result: ChargeSigned, words: QuantityFormatter) -> str:
    pressure = result.settled_gauge_pa
    settled = "charge" if pressure is None else words.gauge(pressure, 2)
    typed = " by hand" if result.by_hand else ""
    return f"{settled}{typed}, {result.decision}; hold {result.hold}"


def _second(result: SecondSigned, words: QuantityFormatter) -> str:
    leak = words.leak(result.rate_pa_m3_s, result.expanded_pa_m3_s)
    return f"second reading by {' and '.join(result.by)}: leak {leak}, {result.decision}"


WORDS: dict[type, Callable[[Any, QuantityFormatter], str]] = {
    Confirmed: lambda _, __: "",
    Noted: _line,
    Written: _text,
    Measured: _quantity,
    Tightened: _torque,
    Chosen: _choice,
    PartFitted: _part,
    MaterialTaken: _material,
    StackRecorded: _stack,
    Photographed: _photos,
    ZeroRead: _zero,
    OilSigned: _oil,
    ChargeSigned: _charge,
    SecondSigned: _second,
    Said: lambda said, _: said.text,
}
"""The words of each kind of result."""

_BY_TITLE = (Written, Measured, Tightened, Photographed)
