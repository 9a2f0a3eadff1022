from PySide6.QtCore import Qt

from benchstation.screens.model.elements import Tone
from benchstation.screens.model.records import TimelineRow
from benchstation.ui.widgets.lists.timeline import Timeline

LONG = "Vorderachsschwingungsdämpferkolbenstangendichtung " * 3
ROWS = (
    TimelineRow("2026-03-03 10:02 CET", "Intake", "Condition as found: weeping", "M. Kofler"),
    TimelineRow("2026-03-03 10:09 CET", LONG, LONG, "S. Oberhauser", Tone.CAUTION),
)


def test_rows_say_all_of_it_and_a_mark_in_words(shown):
    line = shown(Timeline(), size=(500, 400))
    line.show_rows("Steps", ROWS)
    assert line.heading.text() == "Steps"
    assert [row.accessibleName().split(": ")[0] for row in line.rows] == [r.when for r in ROWS]
    assert line.rows[1].accessibleName().endswith("caution")
    assert not line.rows[0].accessibleName().endswith("caution")


def test_long_words_take_lines_and_no_part_lies_over_another(shown):
    line = shown(Timeline(), size=(420, 600))
    line.show_rows("Steps", ROWS)
    row = line.rows[1]
    when, title, who, words = (place for place, _ in row.parts(420))
    assert title.bottom() < words.top()
    assert when.bottom() < who.top()
    assert not when.intersects(title)
    assert max(title.right(), words.right()) <= 420
    assert row.heightForWidth(420) > words.bottom()
    assert row.heightForWidth(420) > row.heightForWidth(900)


def test_fewer_rows_hide_the_rest_and_none_hide_all(shown):
    line = shown(Timeline(), size=(420, 600))
    line.show_rows("Steps", ROWS)
    line.show_rows("Steps", ROWS[:1])
    assert [row.isVisibleTo(line) for row in line.rows] == [True, False]
    line.show_rows("Steps", ())
    assert not line.isVisible()
    assert line.heading.textFormat() is Qt.TextFormat.PlainText
