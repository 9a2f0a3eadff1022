"""What changed: the field on its own line, was and is beside each other."""

from benchstation.ui.widgets.lists.changes import Changes

ROWS = (
    ("oil.volume", "0.000262", "0.000263"),
    ("steps.next_unit.notes.condition.hint.of.a.long.name", "weeping at wiper, rod scored", "bent"),
)


def test_was_and_is_stand_side_by_side_under_their_field(shown):
    made = shown(Changes(), size=(280, 300))
    made.show_changes(ROWS)
    boxes, height = made.boxes(280)
    last = 0
    for field, was, now in boxes:
        assert field.top() > last
        assert was.top() == now.top() > field.top()
        assert was.right() < now.left()
        assert now.right() <= 280
        last = was.bottom()
    assert height > last
    assert made.heightForWidth(280) == height
    made.grab()


def test_long_words_take_more_lines_and_long_names_break_at_stops(shown):
    made = shown(Changes(), size=(280, 300))
    made.show_changes(ROWS)
    (short, was, _), (long, wrapped, _) = made.boxes(220)[0]
    assert long.height() > short.height()
    assert wrapped.height() >= 2 * was.height()
    assert made.heightForWidth(180) > made.heightForWidth(400)


def test_it_is_said_in_words_and_nothing_takes_no_room(shown):
    made = shown(Changes(), size=(280, 300))
    assert made.heightForWidth(280) == 0
    made.grab()
    made.show_changes(ROWS[:1])
    assert made.accessibleDescription() == "oil.volume was 0.000262, is 0.000263"


def test_what_is_drawn_is_there_on_both_sides(shown):
    made = shown(Changes(), size=(280, 300))
    before = made.grab().toImage()
    made.show_changes(ROWS)
    image = made.grab().toImage()
    for _, was, now in made.boxes(280)[0]:
        for box in (was, now):
            assert image.copy(box) != before.copy(box)
