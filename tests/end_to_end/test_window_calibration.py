"""A certificate is typed, looked over and signed at the real window; the scale corrects by it."""

from datetime import UTC, datetime, timedelta

import pytest

from benchstation.demo import shop as demo
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.ui.shell.window import Window
from tests.end_to_end.hands import Hands
from tests.stepped_bench import make_bench

TODAY = datetime.now(UTC).date()


class LeadAtCalibrations(Hands):
    """A bench lead at the page."""

    def __init__(self, qtbot, window, bench) -> None:
        super().__init__(qtbot, window)
        self.bench = bench

    @property
    def page(self):
        return self.window.made["instruments"].calibrations

    def go_there(self) -> None:
        self.key("F6")
        self.until(lambda: "instruments" in self.window.made)
        self.key("Ctrl+B")
        self.until(lambda: self.page is not None and self.page.opened is not None)

    def open_form(self) -> None:
        self.key("Ctrl+N")
        self.until(lambda: self.page.form_open is not None)

    def type(self, **texts: str) -> None:
        for name, text in texts.items():
            row = next(row for row in self.page.form.rows if row.field.id == name)
            row.editor.setFocus()
            self.qtbot.keyClicks(row.editor, text)

    def press(self) -> None:
        self.page.action_bar.press_primary()


@pytest.fixture
def lead(qtbot, tmp_path):
    bench = make_bench(tmp_path, start=datetime.now(UTC) - timedelta(minutes=1))
    bench.sign_in(demo.LEAD)
    station = Station(bench.live, Records(bench.store))
    station.start()
    window = Window(station)
    qtbot.addWidget(window)
    window.resize(1280, 800)
    window.show()
    window.start()
    qtbot.waitUntil(lambda: window.view is not None)
    yield LeadAtCalibrations(qtbot, window, bench)
    window.close()
    station.close()
    bench.store.close()


def test_a_certificate_goes_from_the_form_to_the_next_reading(lead):
    lead.go_there()
    lead.open_form()
    lead.type(certificate="C-27", laboratory="Eichlabor", on=str(TODAY - timedelta(days=5)))
    lead.type(until=str(TODAY + timedelta(days=360)), gain="1.01", u="0.02 g")
    lead.press()
    lead.until(lambda: lead.page.form_open is None and "calibrate" in lead.page.opened.forms)
    shown = [term.label for group in lead.page.opened.groups for term in group.terms]
    assert "Verdicts that would be worse" in shown
    lead.key("Ctrl+S")
    lead.until(lambda: lead.page.form_open is not None)
    lead.type(reason="yearly", signature=demo.PIN)
    registered = lead.bench.session.scale.registered
    lead.press()
    lead.until(lambda: lead.bench.session.scale.registered is not registered)
    kept = lead.bench.session.scale.registered
    assert (kept.certificate, kept.gain, kept.calibration.reason) == ("C-27", 1.01, "yearly")
    lead.until(lambda: lead.page.form_open is None)
    lead.until(lambda: lead.page.opened.row.below[1] == "C-27")


def test_a_wrong_pin_changes_nothing_and_keeps_the_form(lead):
    lead.go_there()
    lead.open_form()
    lead.type(certificate="C-27", laboratory="Eichlabor", on=str(TODAY - timedelta(days=5)))
    lead.type(until=str(TODAY + timedelta(days=360)), gain="1.01", u="0.02 g")
    lead.press()
    lead.until(lambda: lead.page.form_open is None and "edit_calibration" in lead.page.opened.forms)
    lead.key("Ctrl+S")
    lead.until(lambda: lead.page.form_open is not None)
    before = lead.bench.session.scale.registered
    lead.type(reason="yearly", signature="000000")
    lead.press()
    lead.until(lambda: lead.page.form.values()["signature"] == "")
    assert lead.page.form.values()["reason"] == "yearly"
    assert lead.bench.session.scale.registered is before
