"""Proof at the bench: what was captured, with margin, U and probability; and the filed unit."""

from collections.abc import Callable
from functools import lru_cache

from benchstation.bench.session import BenchSession
from benchstation.domain.disposition import Standing
from benchstation.domain.events import ChargeCaptured, HoldTested, OilJudged
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.statement_words import worded
from benchstation.domain.unit_commands import PASS
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import percent
from benchstation.quantities.units import Dimension
from benchstation.reports.export import FiledRecord, filed_record
from benchstation.reports.label import label_lines
from benchstation.reports.remarks import set_lines
from benchstation.screens.model.elements import BigNumber, Tone
from benchstation.screens.model.proof import MomentView, ProofView
from benchstation.screens.records.figures import (
    charge_figure,
    oil_figure,
    tone_of,
    traces_of,
)
from benchstation.store.chain_store import ChainStore

WAITS_FOR_QA = "waits for QA's release"


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
    return f"{words(abs(margin))} {'within' if margin >= 0 else 'outside'} the {limit} limit"


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
        (oil_figure(record.oil, words), charge_figure(record.charge, words)),
        traces_of(filed, words),
        _beside(filed, words),
        (record.serial, *label_lines(filed, words)),
        unit_id,
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
