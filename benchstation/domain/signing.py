"""Signing a step with what its form says: each input is checked, and its result is evidence."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date

from benchstation.domain.events import Event, StepSigned
from benchstation.domain.inputs.charge import ChargeInput
from benchstation.domain.inputs.given import (
    GaugeNow,
    Given,
    Picture,
    PushForce,
    StillToDoError,
    Taken,
)
from benchstation.domain.inputs.oil import OilInput
from benchstation.domain.inputs.registry import Evidence, Result
from benchstation.domain.inputs.second_reading import SecondReading
from benchstation.domain.materials import Stock
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.specification import Step, StepKind
from benchstation.domain.unit_commands import require_step
from benchstation.driver_api.errors import StationError, in_field
from benchstation.quantities.units import UnitSystem

SIGNED = tuple(
    kind
    for kind in StepKind
    if kind not in (StepKind.WEIGH, StepKind.BLEED, StepKind.CHARGE, StepKind.SECOND, StepKind.FILE)
)
"""The kinds of steps that a person signs; the others are signed by a capture or by filing."""


@dataclass(frozen=True, slots=True)
class BenchNow:
    """What the bench knows as a step is signed, and the units that its numbers are shown in."""

    units: UnitSystem = UnitSystem.METRIC
    taken: Taken | None = None
    expected: PushForce | None = None
    gauge: GaugeNow = field(default_factory=GaugeNow)
    ticked_pa: Mapping[str, float | None] = field(default_factory=dict)
    stock: Stock = field(default_factory=Stock)
    today: date = date.min


def sign_step(
    rebuild: Rebuild, fields: Mapping[str, str], now: BenchNow = BenchNow()
) -> list[Event]:
    """Sign the current step with what its form says; raise in words when that is not enough."""
    step = require_step(rebuild, *SIGNED)
    return [StepSigned(rebuild.unit_id, step.id, evidence_of(rebuild, step, fields, now))]


def evidence_of(rebuild: Rebuild, step: Step, fields: Mapping[str, str], now: BenchNow) -> Evidence:
    """Return what each input of a step gives; raise with all that is still to do."""
    found = []
    missing: list[StillToDoError] = []
    for result in _checked(rebuild, step, fields, now):
        if isinstance(result, StillToDoError):
            missing.append(result)
        elif isinstance(result, StationError):
            raise result
        elif result is not None:
            found.append(result)
    if missing:
        raise NotAllowedError(
            f"still to do: {'; '.join(error.missing for error in missing)}.",
            where=step.title,
            advice=" ".join(dict.fromkeys(error.advice for error in missing)),
            field=missing[0].field,
        )
    return tuple(found)


def wrong_at_step(
    rebuild: Rebuild, step: Step, fields: Mapping[str, str], now: BenchNow
) -> Iterator[StationError]:
    """Return what each input refuses of a form that is being filled in."""
    for result in _checked(rebuild, step, fields, now):
        if isinstance(result, StationError):
            yield result


def _checked(
    rebuild: Rebuild, step: Step, fields: Mapping[str, str], now: BenchNow
) -> Iterator[Result | StationError | None]:
    """Return what each input gives, or is refused for; a refusal names the field."""
    specification = rebuild.specification
    given = Given(
        step.title,
        fields,
        now.units,
        rebuild.deviated(step.id),
        now.taken,
        now.expected,
        specification.stacks,
        tuple(
            Picture(p.photo_sha256, p.size_bytes, p.media_type, p.caption)
            for p in rebuild.photos_of(step.id)
        ),
        now.gauge,
        specification.gas.release_zero_band,
        now.ticked_pa,
        now.stock,
        now.today,
    )
    for asked in specification.asked_at(step):
        assert not isinstance(asked.input, OilInput | ChargeInput | SecondReading), (
            "signed by their captures"
        )
        try:
            with in_field(asked.name):
                result = asked.input.check(asked.name, given)
        except StationError as error:
            yield error
        else:
            yield result
