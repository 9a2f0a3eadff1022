"""Proof on screen: a new result holds a moment in the number's place, a filed unit stands whole."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtWidgets import QApplication

from benchstation.screens.model.elements import BigNumber, Tone, TraceView
from benchstation.screens.model.proof import FigureView, MomentView, ProofView
from benchstation.ui.widgets.readout.proof_panel import HOLD_MS, MomentCard, ProofPanel
from tests.ui.fake_moments import charge, filed, pour
from tests.ui.fitting import problems_now

MOMENT = MomentView(
    "charge 1",
    "Captured",
    BigNumber("settled", "15.02", "bar gauge", Tone.GOOD, spread="U 0.11 bar"),
    (("pass", Tone.GOOD), ("0.29 bar inside the lower limit", Tone.PLAIN)),
)
OIL = FigureView("net oil", "221.73", "g", 221.73, 220.2, 223.6, "U 0.15 g; pass", Tone.GOOD)
CHARGE = FigureView("charge", "15.02", "bar gauge", 15.02, 14.7, 15.5, "U 0.11 bar", Tone.GOOD)
TRACE = TraceView("Charge", "bar gauge", np.array([0.0, 9.0]), np.array([0.0, 15.0]), 9.0)
PROOF = ProofView(
    "pass",
    "waits for QA's release",
    Tone.GOOD,
    (OIL, CHARGE),
    (replace(TRACE, title="Pour", unit="g"), TRACE),
    (("Set, oil: units differ by 0.12 g", Tone.PLAIN), ("deviations: none", Tone.QUIET)),
    ("MR-3102", "Under gas pressure: do not open or heat.", "PASS, NOT RELEASED YET"),
)


def test_a_new_result_holds_and_then_gives_way(shown, qtbot):
    card = shown(MomentCard(hold_ms=60), size=(700, 300))
    card.hide()
    assert not card.follow("A", ())
    assert card.follow("A", (MOMENT,))
    assert card.isVisible()
    assert card.readout.big.shown.spread == "U 0.11 bar"
    assert not card.follow("A", (MOMENT,)), "the same one is no news"
    qtbot.waitUntil(lambda: not card.isVisible(), timeout=1000)
    assert HOLD_MS == 1500


def test_results_of_a_unit_that_is_opened_with_them_are_no_news(shown):
    card = shown(MomentCard(), size=(700, 300))
    card.hide()
    assert not card.follow("A", (MOMENT,)), "the window was opened on it"
    assert not card.follow("B", (replace(MOMENT, id="charge 2"),)), "another unit came to the bench"
    assert card.follow("B", (replace(MOMENT, id="charge 3"),))


def test_its_number_stands_where_the_steps_own_does_and_no_key_is_lost(open_bench):
    bench = open_bench(charge())
    bench.show(replace(charge(), moments=(MOMENT,)))
    card, own = bench.task.moment, bench.task.primary_readout
    assert card.isVisible()
    place = card.readout.mapTo(bench.window, card.readout.rect().topLeft())
    assert place == own.mapTo(bench.window, own.rect().topLeft())
    assert card.readout.big.point_x == own.big.point_x
    bench.key("Space")
    assert [name for name, _ in bench.station.acted] == ["capture"]


@pytest.mark.parametrize("percent", [100, 150])
@pytest.mark.parametrize("size", [(1280, 800), (1600, 900)])
def test_a_filed_unit_shows_verdict_figures_traces_set_and_label(open_bench, percent, size):
    bench = open_bench(pour(), size=size, text_percent=percent)
    bench.show(replace(filed(), filed=PROOF))
    QApplication.processEvents()
    proof = bench.task.proof
    assert proof.isVisible()
    assert proof.verdict.text() == "pass"
    assert [figure.shown for figure in proof.figures] == [OIL, CHARGE]
    roomy = percent == 100
    assert [trace.isVisible() for trace in proof.traces] == [roomy, roomy]
    assert "NOT RELEASED" in proof.paper.text()
    assert problems_now(bench.window) == []
    bench.show(pour())
    assert not proof.isVisible()


def test_a_panel_without_proof_is_hidden(shown):
    panel = shown(ProofPanel(), size=(700, 300))
    panel.show_proof(PROOF)
    assert panel.isVisible()
    panel.show_proof(None)
    assert not panel.isVisible()
