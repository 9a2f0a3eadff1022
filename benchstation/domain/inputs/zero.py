"""The gauge at its zero band: the gas is out of the unit, or out of the fill line.

The unit is proven empty by a valid reading alone. The fill line may rest on the person's word
where no gauge reads it, and a deviation may accept that it is under pressure.
"""

from dataclasses import dataclass
from typing import ClassVar, Literal

from benchstation.domain.content import Part, Recorded
from benchstation.domain.inputs.given import YES, Given
from benchstation.domain.refusals import NotAllowedError
from benchstation.quantities.units import Dimension, shown

Place = Literal["unit", "fill line"]
UNIT: Place = "unit"
FILL_LINE: Place = "fill line"
ANEW = (
    "Open the line fully to the air. If it stays so, set the gauge to zero and charge again. "
    "Or have a lead accept a deviation."
)
CHARGE_ANEW = "Go back and charge again. Or have a lead accept a deviation."
UNSEEN = {
    "rod": "Not seen by the gauge: the rod, pushed fully in, stays in",
    "screw": "Not seen by the gauge: the gas screw is open, and nothing comes out",
}
"""What a person confirms, each for itself, where the gauge saw no gas of this unit fall."""


def unseen_fields(name: str) -> dict[str, str]:
    """Return the fields of both words, with what each says."""
    return {f"{name}_{what}": said for what, said in UNSEEN.items()}


@dataclass(frozen=True, slots=True)
class ZeroRead(Recorded):
    """What the gauge showed; ``gauge_pa`` is ``None`` where the person's word stands alone.

    ``doubt`` says why then; empty: there was no reading. Earlier evidence did not always say which
    of the two places it was (empty), nor the band (``None``).
    """

    input: str
    label: Place | Literal[""]
    gauge_pa: float | None
    band_pa: float | None
    instrument_id: str = ""
    doubt: str = ""
    seen: bool | None = None
    """The gauge saw the gas fall to zero; ``False``: that rests on words of a person.
    ``None`` where no charge was read on it, and in earlier evidence, which did not say."""
    found_gauge_pa: float | None = None
    fell_from_gauge_pa: float | None = None
    trace_sha256: str = ""
    zero_before_pa: float | None = None
    """Of the fill line: the same gauge's zero before the charge."""
    type: Literal["zero"] = "zero"

    @property
    def instruments(self) -> tuple[str, ...]:
        """Return the ids of the instruments that it rests on."""
        return (self.instrument_id,) if self.gauge_pa is not None else ()


class ZeroReading(Part):
    """A reading of the gauge within the zero band."""

    _LATER: ClassVar[frozenset[str]] = frozenset({"type"})
    noun: ClassVar[str] = "zero"

    place: Place = UNIT
    type: Literal["zero"] = "zero"

    @property
    def accepted_whole(self) -> bool:
        """Return True when a deviation signs the step with what the gauge shows then."""
        return self.place == FILL_LINE

    def check(self, name: str, given: Given) -> ZeroRead:
        """Return the reading; refused while there is, or may be, pressure."""
        gauge, band = given.gauge, given.zero_band_pa
        if self.place == UNIT:
            self._require_proof(given)
            return self._released(name, given)
        pressed = gauge.gauge_pa is not None and gauge.gauge_pa > band
        if not given.accepted and not gauge.doubt:
            _require_same_zero(given)
        if pressed and not given.accepted:
            said = shown(gauge.gauge_pa or 0.0, Dimension.PRESSURE, given.units)
            raise NotAllowedError(
                f"the gauge shows {said} in the fill line.",
                where=given.title,
                advice="Close the gas screw and the bottle. Vent the line slowly, pointed "
                "away; then sign.",
            )
        if gauge.gauge_pa is None or (gauge.doubt and not pressed):
            return ZeroRead(name, self.place, None, band, doubt=gauge.doubt)
        charged = gauge.seen.found_gauge_pa is not None
        fell = gauge.seen.fell_from_gauge_pa is not None
        if charged and not fell and not given.accepted:
            raise NotAllowedError(
                "the gauge was not seen to fall from the charge to zero: the charge is undecided.",
                where=given.title,
                advice=CHARGE_ANEW,
            )
        return ZeroRead(
            name,
            self.place,
            gauge.gauge_pa,
            band,
            gauge.instrument_id,
            seen=fell if charged else None,
            fell_from_gauge_pa=gauge.seen.fell_from_gauge_pa,
            trace_sha256=gauge.seen.trace_sha256,
            zero_before_pa=gauge.zero_before_pa,
        )

    def _released(self, name: str, given: Given) -> ZeroRead:
        """Return the zero with the fall that was seen, or with both words in its place."""
        gauge, seen = given.gauge, given.gauge.seen
        fell = seen.fell_from_gauge_pa is not None
        missing = [s for k, s in unseen_fields(name).items() if given.fields.get(k) != YES]
        if not fell and missing:
            raise NotAllowedError(
                "the gauge did not see gas of this unit fall to zero.",
                where=given.title,
                advice=f"Connect it and let the gas out; else confirm both: {'; '.join(missing)}.",
            )
        return ZeroRead(
            name,
            self.place,
            gauge.gauge_pa,
            given.zero_band_pa,
            gauge.instrument_id,
            "" if fell else gauge.doubt,
            fell,
            seen.found_gauge_pa,
            seen.fell_from_gauge_pa,
            seen.trace_sha256,
        )

    def _require_proof(self, given: Given) -> None:
        gauge_pa, band = given.gauge.gauge_pa, given.zero_band_pa
        if gauge_pa is None:
            raise NotAllowedError(
                "there is no valid pressure reading.",
                where=given.title,
                advice="Connect the gauge; a missing reading never counts as zero.",
            )
        if abs(gauge_pa) > band:
            raise NotAllowedError(
                f"the gauge shows {shown(gauge_pa, Dimension.PRESSURE, given.units)}, "
                f"outside ±{shown(band, Dimension.PRESSURE, given.units)}.",
                where=given.title,
                advice="Continue releasing slowly, pointed away. Do not open the unit.",
            )


def by_word_alone(result: object) -> bool:
    """Return True for a fill line that no fit gauge saw at zero."""
    if not isinstance(result, ZeroRead):
        return False
    return result.label == FILL_LINE and result.gauge_pa is None


def _require_same_zero(given: Given) -> None:
    """Raise where the gauge stands below its zero band, or its zero moved since before the charge.

    More than the band is left to whoever judges pressure in the line.
    """
    gauge_pa, before_pa, band = given.gauge.gauge_pa, given.gauge.zero_before_pa, given.zero_band_pa
    if gauge_pa is None or gauge_pa > band:
        return
    if gauge_pa < -band:
        raise NotAllowedError(
            f"the gauge shows {shown(gauge_pa, Dimension.PRESSURE, given.units)} in the open line, "
            f"outside ±{shown(band, Dimension.PRESSURE, given.units)}: the charge is undecided.",
            where=given.title,
            advice=ANEW,
        )
    if before_pa is not None and abs(gauge_pa - before_pa) > band:
        moved = shown(gauge_pa - before_pa, Dimension.PRESSURE, given.units)
        raise NotAllowedError(
            f"the gauge's zero moved by {moved} since before the charge: the charge is undecided.",
            where=given.title,
            advice=ANEW,
        )
