"""Proof at the bench: what was captured, with margin, U and probability; and the filed unit."""

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

from benchstation.bench.session import BenchSession
from benchstation.domain.disposition import Standing
from benchstation.domain.events import ChargeCaptured, HoldTested, OilJudged
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.statement_words import worded
from benchstation.domain.unit_commands import PASS
from benchstation.domain.unit_record import RecordedCharge, RecordedOil
from benchstation.metrology.conformity import Decision
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import percent
from benchstation.quantities.units import Dimension, to_display
from benchstation.reports.export import FiledRecord, filed_record
from benchstation.reports.label import label_lines
from benchstation.reports.remarks import decision_in_words, set_lines
from benchstation.screens.model.elements import BigNumber, Tone, TraceView
from benchstation.screens.model.proof import FigureView, MomentView, ProofView
from benchstation.screens.records.page import traces_of
from benchstation.store.chain_store import ChainStore

TONES = {PASS: Tone.GOOD, Decision.FAIL.value: Tone.DANGER}
WAITS_FOR_QA = "waits for QA's release"


def tone_of(decision: str) -> Tone:
    """Return green for a judged pass alone."""
    return TONES.get(decision, Tone.CAUTION)


def moments(rebuild: Rebuild | None, words: QuantityFormatter) -> tuple[MomentView, ...]:
    """Return every result that the unit has now; the window shows the one that is new."""
    if rebuild is None:
        return ()
    found = [_oil(judged, words) for judged in (rebuild.oil or {}).values()]
    if rebuild.charge is not None:
        found.append(_charge(rebuild.charge, words))
    if rebuild.hold is not None:
        found.append(_hold(rebuild.hold, words))
    return tuple(found)


def _oil(judged: OilJudged, words: QuantityFormatter) -> MomentView:
    number, tone = words.mass_shown(judged.net_shown_kg), tone_of(judged.decision)
    u = words.uncertainty(judged.expanded_kg, Dimension.MASS)
    margin = _margin(judged.deviation_kg, judged.tolerance_kg, words.mass)
    name = f"oil {judged.step_id} {judged.net_shown_kg!r} {judged.expanded_kg!r}"
    big = BigNumber("net oil", number.number, number.unit, tone, spread=f"U {u}")
    return MomentView(
        name, "Captured", big, ((judged.decision, tone), (margin, Tone.PLAIN), _conforms(judged))
    )


def _charge(charge: ChargeCaptured, words: QuantityFormatter) -> MomentView:
    number, tone = words.pressure_shown(charge.settled_gauge_pa), tone_of(charge.decision)
    u = words.uncertainty(charge.expanded_pa, Dimension.PRESSURE)
    off = charge.settled_gauge_pa - charge.target_gauge_pa
    margin = _margin(off, charge.tolerance_pa, words.pressure)
    name = f"charge {charge.trace_sha256} {charge.settled_gauge_pa!r}"
    big = BigNumber("settled", number.number, f"{number.unit} gauge", tone, spread=f"U {u}")
    return MomentView(
        name, "Captured", big, ((charge.decision, tone), (margin, Tone.PLAIN), _conforms(charge))
    )


def _hold(hold: HoldTested, words: QuantityFormatter) -> MomentView:
    number, tone = words.pressure_shown(hold.end_gauge_pa), tone_of(hold.decision)
    leak = words.leak(hold.leak_pa_m3_s, 2 * hold.u_leak_pa_m3_s)
    big = BigNumber("after the hold test", number.number, f"{number.unit} gauge", tone)
    allowed = f"allowed {words.leak(hold.allowed_pa_m3_s)}"
    return MomentView(
        f"hold {hold.trace_sha256} {hold.leak_pa_m3_s!r}",
        "Hold test",
        big,
        ((hold.decision, tone), (f"leak {leak}", Tone.PLAIN), (allowed, Tone.QUIET)),
    )


def _margin(off: float, tolerance: float, words: Callable[[float], str]) -> str:
    limit = "upper" if off > 0 else "lower"
    margin = tolerance - abs(off)
    return f"{words(abs(margin))} {'inside' if margin >= 0 else 'outside'} the {limit} limit"


def _conforms(judged: OilJudged | ChargeCaptured) -> tuple[str, Tone]:
    probability = min(float(judged.probability), 0.999)
    over = "over " if probability < judged.probability else ""
    return f"conforms: {over}{percent(probability, 1)}", Tone.QUIET


def filed_proof(session: BenchSession, words: QuantityFormatter) -> ProofView | None:
    """Return the proof of the unit on the bench once it is filed."""
    rebuild = session.rebuild
    if rebuild is None or rebuild.ended != "filed":
        return None
    return _filed(session.store, rebuild.unit_id, words)


@lru_cache(maxsize=2)
def _filed(store: ChainStore, unit_id: str, words: QuantityFormatter) -> ProofView:
    filed = filed_record(store, unit_id)
    record = filed.record
    standing = filed.disposition.standing
    # A deviation or a hold is never green, whatever was judged.
    plain = not record.deviations and not record.qa_hold_reasons
    return ProofView(
        record.decision,
        WAITS_FOR_QA if standing is Standing.NOT_RELEASED else standing.value,
        tone_of(record.decision) if plain or record.decision != PASS else Tone.CAUTION,
        (_oil_figure(record.oil, words), _charge_figure(record.charge, words)),
        _traces(filed, words),
        _beside(filed, words),
        (record.serial, *label_lines(filed, words)),
    )


def _traces(filed: FiledRecord, words: QuantityFormatter) -> tuple[TraceView, ...]:
    """Return pour and charge from zero on, the charge with its window."""
    charge = _charge_figure(filed.record.charge, words)
    traces = traces_of(filed, words)
    return tuple(
        replace(
            trace,
            seconds=trace.seconds - trace.seconds[0],
            band=(charge.low, charge.high) if trace.unit == charge.unit else None,
        )
        for trace in traces
    )


def _oil_figure(oil: RecordedOil, words: QuantityFormatter) -> FigureView:
    number, system = words.mass_shown(oil.net_shown_kg), words.system
    value, low, high = (
        to_display(kg, Dimension.MASS, system)
        for kg in (
            oil.net_shown_kg,
            oil.target_shown_kg - oil.tolerance_kg,
            oil.target_shown_kg + oil.tolerance_kg,
        )
    )
    said = f"U {words.uncertainty(oil.expanded_kg, Dimension.MASS)}; {decision_in_words(oil)}"
    tone = tone_of(oil.decision)
    return FigureView("net oil", number.number, number.unit, value, low, high, said, tone)


def _charge_figure(charge: RecordedCharge, words: QuantityFormatter) -> FigureView:
    number, system = words.pressure_shown(charge.settled_gauge_pa), words.system
    value, low, high = (
        to_display(pa, Dimension.PRESSURE, system)
        for pa in (
            charge.settled_gauge_pa,
            charge.target_gauge_pa - charge.tolerance_pa,
            charge.target_gauge_pa + charge.tolerance_pa,
        )
    )
    u = words.uncertainty(charge.expanded_pa, Dimension.PRESSURE)
    return FigureView(
        f"charge, unit at {words.temperature(charge.bench_k)}",
        number.number,
        f"{number.unit} gauge",
        value,
        low,
        high,
        f"U {u}; {decision_in_words(charge)}",
        tone_of(charge.decision),
    )


def _beside(filed: FiledRecord, words: QuantityFormatter) -> tuple[tuple[str, Tone], ...]:
    record = filed.record
    lines = [
        (f"{name}: {value}; {more}", Tone.PLAIN) for name, value, more in set_lines(record, words)
    ]
    holds = [(f"hold: {worded(reason)}", Tone.CAUTION) for reason in record.qa_hold_reasons]
    count = len(record.deviations)
    deviations = (f"deviations: {count or 'none'}", Tone.CAUTION if count else Tone.QUIET)
    return (*holds, *lines, deviations)
