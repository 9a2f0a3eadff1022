"""Proof at the bench: margin, U and probability of a capture; the filed unit from its record."""

from dataclasses import replace

import pytest

from benchstation.domain.specification import StepKind
from benchstation.quantities.formatter import METRIC, QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.page import bench_view
from benchstation.screens.model.elements import StepState, Tone
from tests.stepped_bench import make_bench


@pytest.fixture
def bench(tmp_path):
    made = make_bench(tmp_path)
    yield made
    made.store.close()


def test_a_capture_has_margin_uncertainty_and_probability(bench):
    bench.work_to(StepKind.FILE)
    moments = {m.id.split()[0]: m for m in bench_view(bench.session, METRIC).moments}
    assert set(moments) == {"oil", "charge", "hold"}
    charge = bench.session.rebuild.charge
    texts = [text for text, _ in moments["charge"].lines]
    assert texts[0] == charge.decision == "pass"
    margin = (charge.tolerance_pa - abs(charge.settled_gauge_pa - charge.target_gauge_pa)) / 1e5
    assert texts[1].startswith(f"{margin:.2f} bar within the ")
    assert texts[2].startswith("conforms: ")
    assert moments["charge"].big.spread.startswith("U 0.")
    assert moments["charge"].big.tone is Tone.GOOD


@pytest.mark.parametrize("system", list(UnitSystem))
def test_a_filed_unit_is_shown_from_its_record(bench, system):
    bench.work_to(None)
    words = QuantityFormatter(system)
    view = bench_view(bench.session, words)
    proof = view.filed
    assert proof.verdict == "pass"
    assert proof.standing == "waits for QA's release"
    assert [figure.low < figure.value < figure.high for figure in proof.figures] == [True, True]
    assert len(proof.traces) == 2
    assert all(trace.seconds[0] == 0.0 for trace in proof.traces)
    assert proof.label[0] == bench.session.rebuild.opened.serial
    papers = {"open_paper", "print_record", "print_label"}
    assert {action.id for action in view.task.actions} == {"open_record", "next", *papers}
    assert bench_view(bench.session, words).filed is proof, "it is read once"


def states(bench) -> dict[str, StepState]:
    return {step.id: step.state for step in bench_view(bench.session, METRIC).steps}


def test_a_step_that_failed_or_deviated_is_never_plainly_done(bench):
    bench.work_to(StepKind.FILE)
    assert set(states(bench).values()) == {StepState.DONE, StepState.NOW}
    rebuild = bench.session.rebuild
    failed = replace(rebuild, charge=replace(rebuild.charge, decision="fail"))
    bench.session.on_bench.rebuild = failed
    charge = next(s.id for s in failed.specification.steps if s.kind is StepKind.CHARGE)
    seen = states(bench)
    assert seen.pop(charge) is StepState.DIFFERS
    assert StepState.DIFFERS not in seen.values()
