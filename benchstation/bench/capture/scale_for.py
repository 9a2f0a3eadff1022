"""The scale of a weighing, where a bench has several: chosen anew for each, and on record."""

from collections.abc import Sequence
from datetime import date

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.capture.judgement import scale_quality
from benchstation.domain.events import ScaleChosen
from benchstation.domain.inputs.quantity import Measure, Source
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.scale_choice import Against, Candidate, Why, choose, load_kg
from benchstation.domain.specification import Method, Step, StepKind
from benchstation.domain.weigh_in import weighing_u_kg


def candidate(scale: BenchInstrument, now: float, today: date) -> Candidate:
    """Return a scale as it is now."""
    unusable = Against.UNFIT if scale.unfit(today) else None
    if scale.good_value(now) is None:
        unusable = Against.NO_READING
    return Candidate(
        scale.id,
        scale.instrument.profile.channel.high,
        weighing_u_kg(scale_quality(scale)),
        unusable,
    )


def load_at(rebuild: Rebuild, step: Step, purpose: Purpose) -> float | None:
    """Return about what will stand on a scale at a step, kg; ``None`` where nothing does."""
    if step.kind not in (StepKind.WEIGH, StepKind.BLEED):
        asked = (a.input for a in step.asked if isinstance(a.input, Measure))
        measured = next((one for one in asked if one.source is Source.SCALE), None)
        return None if measured is None else measured.nominal or 0.0
    fill = rebuild.specification.oil
    before = [c.event.shown_kg for c in rebuild.captures if c.event.purpose == Purpose.BEFORE]
    known = [*before[-1:], fill.unit_mass]
    return load_kg(fill, purpose, rebuild.method, next((kg for kg in known if kg), None))


def scale_for(
    scales: Sequence[BenchInstrument],
    rebuild: Rebuild,
    step: Step,
    purpose: Purpose,
    now: float,
    today: date,
) -> ScaleChosen | None:
    """Return the choice for a step as it is put on record; ``None`` where there is none to make.

    What a person chose stays while it will do. Where no scale will do the last choice stays, for
    a reading may only be late.
    """
    load = load_at(rebuild, step, purpose)
    if load is None or len(scales) < 2:
        return None
    known = (rebuild.scales or {}).get(step.id)
    candidates = [candidate(scale, now, today) for scale in scales]
    against = {one.id: one.against(load) for one in candidates}
    if known is not None and known.why == Why.CHOSEN and against.get(known.scale_id, "") is None:
        return known
    found = choose(candidates, load, _bound(rebuild, step, purpose))
    return known if found is None else chosen_as(rebuild, step, found, load, against)


def chosen_as(
    rebuild: Rebuild,
    step: Step,
    found: tuple[str, Why],
    load: float,
    against: dict[str, Against | None],
) -> ScaleChosen:
    """Return a choice as it is put on record, with what spoke against the others."""
    left = {name: why.value for name, why in against.items() if why is not None}
    return ScaleChosen(rebuild.unit_id, step.id, found[0], found[1].value, load, left)


def _bound(rebuild: Rebuild, step: Step, purpose: Purpose) -> str:
    """Return the scale that weighed the unit before the pour, if that is what is weighed."""
    if not purpose.adds or rebuild.method is not Method.DIFFERENCE:
        return ""
    for captured in (c.event for c in reversed(rebuild.captures)):
        if (captured.step_id, captured.purpose) == (step.id, Purpose.BEFORE):
            return captured.instrument_id
    return ""
