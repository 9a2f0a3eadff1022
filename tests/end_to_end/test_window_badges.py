"""Badges at the real window while somebody is writing: they hand over, and become no text."""

import json

import pytest
from PySide6.QtTest import QTest

from benchstation.demo import shop as demo
from benchstation.domain.events import GasFound, PersonSignedIn, PersonSignedOut
from benchstation.domain.specification import StepKind
from tests.end_to_end.hands import Person, start_unit
from tests.ui.scanner import scan


class Scanning(Person):
    """Hands on keyboard and scanner."""

    @property
    def question(self):
        page = self.window.made[self.window.page]
        if self.window.page == "records":
            return page.qa.question
        return page.task.action_bar.question if self.window.page == "bench" else page.question

    def scan(self, who: str) -> None:
        scan(self.window, demo.BADGES[who])

    def there(self, who: str) -> None:
        # The window shows who came a moment before it hears what became of the scan.
        self.until(lambda: self.window.view.who == who and not self.window.scans._asking)

    def kinds(self) -> list[str]:
        """Return the kinds on record, but for who came and went."""
        came = (PersonSignedIn.kind, PersonSignedOut.kind)
        return [entry.kind for entry in self.session.store.entries() if entry.kind not in came]

    def kinds_at_rest(self) -> list[str]:
        """Return the kinds on record once the gauge has found the unit's gas by itself."""
        self.until(lambda: GasFound.kind in self.kinds())
        return self.kinds()

    def everything(self) -> str:
        """Return all that is in the files of the records, whatever it stands in."""
        path = self.session.store.path
        files = sorted(path.parent.glob(f"{path.name}*"))
        return "".join(file.read_bytes().decode("latin-1") for file in files)


@pytest.fixture
def scanning(person):
    return Scanning(person.qtbot, person.window, person.station, person.hand)


def assert_nowhere(scanning, caplog) -> None:
    texts = (
        scanning.everything(),
        caplog.text,
        repr(scanning.session.work.typed),
        repr(scanning.window.view),
        json.dumps(scanning.session.message.text),
    )
    for badge in demo.BADGES.values():
        assert not [text for text in texts if badge in text.replace(demo.HINT, "")]


@pytest.mark.timeout(120)
def test_a_badge_in_the_middle_of_each_reason_hands_over_and_is_on_record_nowhere(scanning, caplog):
    start_unit(scanning)
    scanning.window.bench.task.form.rows[0].editor.clearFocus()
    people = ("wieland", "kofler") * 4
    before = scanning.kinds_at_rest()
    for key, who in zip(("Ctrl+Delete", "Ctrl+T", "Ctrl+Delete"), people, strict=False):
        scanning.window.setFocus()
        scanning.key(key)
        scanning.until(scanning.question.isVisible)
        scanning.qtbot.keyClicks(scanning.question.reason, "weeps at the ")
        scanning.scan(who)
        scanning.there(who)
        scanning.until(lambda: not scanning.question.isVisible())
        scanning.said("A badge is no text")
    assert scanning.kinds() == before
    assert not scanning.session.rebuild.ended
    assert_nowhere(scanning, caplog)


@pytest.mark.timeout(120)
def test_the_own_badge_leaves_the_reason_as_it_was_begun(scanning, caplog):
    start_unit(scanning)
    scanning.window.setFocus()
    scanning.key("Ctrl+T")
    scanning.qtbot.keyClicks(scanning.question.reason, "weeps")
    scanning.scan("kofler")
    scanning.said("is signed in already")
    assert scanning.question.isVisible()
    assert scanning.question.reason.text() == "weeps"
    scanning.qtbot.keyClicks(scanning.window.focusWidget(), " at the wiper")
    scanning.key("Return")
    scanning.until(lambda: "unit.handed_over" in scanning.kinds())
    assert "weeps at the wiper" in scanning.everything()
    assert_nowhere(scanning, caplog)


@pytest.mark.timeout(120)
def test_a_scanner_too_slow_to_be_told_is_refused_at_the_bench(scanning, caplog):
    start_unit(scanning)
    scanning.window.setFocus()
    before = scanning.kinds_at_rest()
    scanning.key("Ctrl+Delete")
    scanning.qtbot.keyClicks(scanning.question.reason, "leaks")
    scan(scanning.window, demo.BADGES["wieland"], gap_s=0.08)
    scanning.said("nothing was recorded")
    assert scanning.kinds() == before
    assert scanning.window.view.who == "kofler"
    assert_nowhere(scanning, caplog)


@pytest.mark.timeout(120)
def test_a_lot_is_scanned_into_the_form_and_a_badge_is_not(scanning, caplog):
    start_unit(scanning)
    field = next(
        row for row in scanning.window.bench.task.form.rows if row.field.kind.value == "text"
    )
    field.editor.setFocus()
    scan(scanning.window, "K-12-RS")
    scanning.until(lambda: field.value() == "K-12-RS")
    field.editor.setFocus()
    field.editor.selectAll()
    scanning.scan("wieland")
    scanning.there("wieland")
    assert field.value() == "K-12-RS"
    assert scanning.session.rebuild.current.kind is StepKind.CONFIRM
    assert_nowhere(scanning, caplog)


@pytest.mark.timeout(120)
def test_at_the_next_unit_a_badge_in_the_serial_s_field_is_none(scanning, caplog):
    start = scanning
    start.until_step("sign-in")
    start.scan("kofler")
    start.there("kofler")
    start.until_step("open")
    serial = next(r for r in start.window.bench.task.form.rows if r.field.id == "serial")
    for focus in (serial.editor, start.window):
        focus.setFocus()
        start.scan("wieland")
        start.there("wieland")
        assert serial.value() == ""
        start.scan("kofler")
        start.there("kofler")
    start.window.setFocus()
    scan(start.window, "MR-9001")
    start.until(lambda: serial.value() == "MR-9001")
    QTest.qWait(50)
    assert_nowhere(start, caplog)
