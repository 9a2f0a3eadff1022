"""The page on the station's own answers: the demonstration's specifications, no hand-made ones."""

from datetime import UTC, datetime

import pytest

from benchstation.demo import shop as demo
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.specifications.page import Specifications
from benchstation.store.engine import open_store
from benchstation.ui.shell.window import Window
from tests.ui.fake_moments import pour
from tests.ui.fake_station import FakeStation

METRIC = QuantityFormatter(UnitSystem.METRIC)


class Answering(FakeStation):
    """Answers about specifications as the station does, from a store."""

    def __init__(self, specifications: Specifications) -> None:
        super().__init__(pour())
        self.real = specifications

    def find_specifications(self):
        return self._answer(self.real.rows())

    def open_specification(self, key, travel, at):
        return self._answer(self.real.open(key, travel, at, METRIC))

    def check_specification(self, source, travel, at):
        return self._answer(self.real.check(source, travel, at, METRIC))


@pytest.fixture
def page(qapp, qtbot, tmp_path):
    with open_store(tmp_path / "s.sqlite", demo.BENCH) as store:
        demo.found(store, datetime.now(UTC))
        window = Window(Answering(Specifications(store)))
        window.resize(1280, 800)
        window.show()
        window.start()
        window.switch("specifications")
        made = window.made["specifications"]
        qtbot.waitUntil(lambda: made.opened is not None, timeout=2000)
        yield made
        window.close()
        window.close()
        window.deleteLater()


def values(page) -> dict[str, str]:
    return {term.shown.label: term.shown.value for term in page.terms.terms.terms}


def test_every_family_opens_with_drawing_and_curves(page, qtbot):
    rows = page.list.rows.rows
    assert len(rows) == len(demo.LOT_OF)
    for place, row in enumerate(rows):
        page.list.setCurrentIndex(page.list.rows.index(place, 0))
        qtbot.waitUntil(lambda row=row: page.opened.row.key == row.key, timeout=1000)
        parts = page.figures.damper.parts()
        assert parts["nitrogen"].width() > 20
        assert parts["rod"].right() <= page.figures.damper.width()
        assert len(page.figures.curves) == 2
        assert "Least oil" in values(page)


def test_an_edit_shows_what_it_does_and_one_too_many_says_why_not(page, qtbot):
    page.press_key("Ctrl+N")
    qtbot.waitUntil(lambda: page._checked is not None, timeout=1000)
    text, gas = page.editor.text, page.figures.damper.parts()["nitrogen"].width()
    before = values(page)
    assert page.editor.problems.isHidden()
    specified = before["Specified"].partition(" ")[0].partition(".")[0]
    assert f'volume = "{specified} mL"' in text

    def pour_instead(volume: int) -> None:
        page.editor.area.selectAll()
        wanted = text.replace(f'volume = "{specified} mL"', f'volume = "{volume} mL"')
        page.editor.area.insertPlainText(wanted)
        qtbot.waitUntil(lambda: page.editor.checked.text().startswith("checked"), timeout=1500)

    pour_instead(int(specified) + 2)
    assert values(page)["Specified"] != before["Specified"]
    assert page.figures.damper.parts()["nitrogen"].width() < gas
    assert [name for name, _, _ in page.terms.changes.shown] == ["Name: Revision", "Oil: Fill"]
    pour_instead(int(specified) * 2)
    assert "fill window" in page.editor.problems.words.text()
