"""A shop's first day: from no specification to one in force, by form alone, presses counted."""

from datetime import UTC, datetime

import pytest
from PySide6.QtCore import Qt

from benchstation.clock import running_clock
from benchstation.demo import shop as demo
from benchstation.domain.events import SpecificationApproved
from benchstation.store.engine import open_store
from tests.end_to_end.conftest import PACE, STORE, Bench, window_at
from tests.end_to_end.hands import sign_in

MOST_PRESSES = 60
"""Of keys that are no text, and clicks. There are 39 figures of the example to look at."""


@pytest.fixture
def person(qtbot, tmp_path):
    """Somebody before a bench with people, and no specification yet."""
    with open_store(tmp_path / STORE, demo.BENCH) as store:
        now = datetime.now(UTC)
        known = [
            event
            for event in demo.founding_events(now.date())
            if not isinstance(event, SpecificationApproved)
        ]
        store.append(known, person=demo.LEAD, utc=now)
    bench = Bench(running_clock(PACE))
    with window_at(qtbot, tmp_path / STORE, bench) as made:
        yield made
    bench.served.close()


class Author:
    """A mechanic at the form, who never sees its text."""

    def __init__(self, person) -> None:
        self.person, self.presses = person, 0

    @property
    def page(self):
        return self.person.window.made["specifications"]

    @property
    def form(self):
        return self.page.form

    def key(self, key: str) -> None:
        self.presses += 1
        # Keys of the bench wait for its actions; those of this page do not.
        super(type(self.person), self.person).key(key)

    def click(self, widget) -> None:
        self.presses += 1
        self.person.qtbot.mouseClick(widget, Qt.MouseButton.LeftButton)

    def type(self, text: str) -> None:
        self.person.qtbot.keyClicks(self.person.window.focusWidget(), text)

    def checked(self) -> None:
        page = self.page
        self.person.until(
            lambda: page._checked is not None and page._checked.source == page.editor.text
        )

    def enter(self, text: str = "") -> None:
        """Type a figure, or find it right, and go on."""
        if text:
            self.type(text)
        self.key("Return")
        self.checked()

    @property
    def at(self) -> str:
        focus = self.person.window.focusWidget()
        return next((row.field.field for row in self.form.rows if row.editor is focus), "")


OWN = {"family": "Quarry truck front", "title": "Front damper, 46 mm", "id": "quarry-front"}


def test_a_first_specification_is_written_and_approved_without_seeing_its_text(person):
    sign_in(person, demo.LEAD)
    author = Author(person)
    author.key("F5")
    person.until(lambda: author.page.none.isVisible())
    author.key("Ctrl+N")
    person.until(author.form.isVisible)
    for field, text in OWN.items():
        assert author.at == field
        author.enter(text)
    author.form.turn_to(1)
    author.presses += 1
    for _ in range(MOST_PRESSES):
        if author.page._checked.not_yet == "":
            break
        author.enter("47.5" if author.at == "geometry.hardware_volume" else "")
    assert author.page._checked.problems == ()
    assert author.page._checked.not_yet == ""
    author.key("Ctrl+S")
    person.until(lambda: author.page.opened is not None and not author.page.writing)
    assert author.presses <= MOST_PRESSES
    author.key("F2")
    author.key("Ctrl+L")
    sign_in(person, demo.QA)
    author.key("F5")
    author.key("Ctrl+Y")
    person.qtbot.keyClicks(person.window.focusWidget(), demo.PIN)
    author.key("Return")
    person.until(lambda: author.page.opened.row.state == "in force")
    (kept,) = person.session.shop.current_specifications()
    assert (kept.id, kept.geometry.hardware_volume) == ("quarry-front", pytest.approx(47.5e-6))
