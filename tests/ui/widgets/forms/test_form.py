"""A form keeps what is typed while the view runs, and starts anew with the step."""

import itertools
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchstation.screens.model.elements import FieldKind, FieldView, Narrowed
from benchstation.ui.shell.theme import TARGET_PX
from benchstation.ui.widgets.forms.form import Form

TEXT = FieldView("serial", "Serial", FieldKind.TEXT, hint="scan or type it")
AMOUNT = FieldView("depth", "Depth", FieldKind.QUANTITY, value="62 mm")
CHOICE = FieldView("lot", "Oil lot", FieldKind.CHOICE, choices=(("L1", "lot 1"), ("L2", "lot 2")))
CHECK = FieldView("rod", "The rod stays in", FieldKind.CHECK)
PIN = FieldView("pin", "PIN", FieldKind.PIN)
ALL = (TEXT, AMOUNT, CHOICE, CHECK, PIN)


@pytest.fixture
def form(shown):
    made = shown(Form(), size=(700, 500))
    made.show_fields("step", ALL)
    QApplication.processEvents()
    return made


def editor(form, field):
    return next(row.editor for row in form.rows if row.field.id == field.id)


def test_values_go_back_by_id(form):
    assert form.values() == {"serial": "", "depth": "62 mm", "lot": "", "rod": "", "pin": ""}
    QTest.keyClicks(editor(form, TEXT), "MR-1")
    editor(form, CHOICE).setCurrentIndex(1)
    QTest.mouseClick(editor(form, CHECK), Qt.MouseButton.LeftButton)
    QTest.keyClicks(editor(form, PIN), "123456")
    assert form.values() == {
        "serial": "MR-1",
        "depth": "62 mm",
        "lot": "L2",
        "rod": "yes",
        "pin": "123456",
    }


def test_what_is_typed_stays_when_the_view_is_refreshed(form):
    QTest.keyClicks(editor(form, TEXT), "MR-1")
    kept = editor(form, TEXT)
    for _ in range(10):
        form.show_fields("step", tuple(replace(field) for field in ALL))
    assert editor(form, TEXT) is kept
    assert kept.text() == "MR-1"


def test_a_value_from_the_station_does_not_overwrite_a_person(form):
    QTest.keyClicks(editor(form, AMOUNT), "x")
    form.show_fields("step", (TEXT, replace(AMOUNT, value="63 mm"), CHOICE, CHECK, PIN))
    assert form.values()["depth"] == "62 mmx"


def test_a_value_from_the_station_fills_what_nobody_touched(form):
    form.show_fields("step", (TEXT, replace(AMOUNT, value="63 mm"), CHOICE, CHECK, PIN))
    assert form.values()["depth"] == "63 mm"
    chosen = replace(CHOICE, value="L2")
    form.show_fields("step", (TEXT, AMOUNT, chosen, replace(CHECK, value="yes"), PIN))
    assert form.values()["lot"] == "L2"
    assert form.values()["rod"] == "yes"


def test_a_hint_may_change_while_typing(form):
    QTest.keyClicks(editor(form, TEXT), "MR")
    form.show_fields("step", (replace(TEXT, hint="known already"), *ALL[1:]))
    assert form.rows[0].hint.text() == "known already"
    assert editor(form, TEXT).text() == "MR"


def test_another_step_starts_empty_even_with_the_same_fields(form):
    QTest.keyClicks(editor(form, TEXT), "MR-1")
    form.show_fields("next", ALL)
    assert form.values()["serial"] == ""


def test_one_more_field_at_the_same_step_keeps_the_rest(form):
    QTest.keyClicks(editor(form, TEXT), "MR-1")
    editor(form, TEXT).setFocus()
    form.show_fields("step", (*ALL, FieldView("note", "Note", FieldKind.TEXT)))
    assert form.values()["serial"] == "MR-1"
    assert form.window().focusWidget() is editor(form, TEXT)


def test_enter_goes_to_the_next_and_from_the_last_submits(form):
    sent = []
    form.submitted.connect(lambda: sent.append(1))
    form.focus_first()
    for field, following in itertools.pairwise(ALL):
        QTest.keyClick(editor(form, field), Qt.Key.Key_Return)
        assert form.window().focusWidget() is editor(form, following)
    assert sent == []
    QTest.keyClick(editor(form, ALL[-1]), Qt.Key.Key_Return)
    assert sent == [1]


def test_the_keyboard_starts_at_the_first_empty_field(form):
    editor(form, TEXT).setText("filled")
    form.focus_first()
    assert form.window().focusWidget() is editor(form, CHOICE)


def test_pins_are_forgotten_and_nothing_else(form):
    QTest.keyClicks(editor(form, TEXT), "MR-1")
    QTest.keyClicks(editor(form, PIN), "123456")
    form.clear_secrets()
    assert form.values()["pin"] == ""
    assert form.values()["serial"] == "MR-1"


def test_every_editor_is_named_and_a_finger_high(form):
    for row in form.rows:
        assert row.editor.accessibleName() == row.field.label
        assert row.editor.height() >= TARGET_PX


def test_two_columns_where_there_is_room_and_one_where_not(form):
    xs = {row.x() for row in form.rows if row.field.kind is not FieldKind.CHECK}
    assert len(xs) == 2
    form.resize(400, 500)
    QApplication.processEvents()
    assert len({row.x() for row in form.rows}) == 1


def test_markup_in_labels_and_hints_is_plain(form):
    form.show_fields("x", (replace(TEXT, label="<b>Serial</b>", hint="<i>x</i>"),))
    assert form.rows[0].hint.text() == "<i>x</i>"
    assert form.rows[0].hint.textFormat() is Qt.TextFormat.PlainText


def test_a_refusal_leads_back_to_the_field_that_was_passed_over(form):
    lot, size, findings = (
        FieldView(name, name, FieldKind.TEXT) for name in ("lot", "size", "findings")
    )
    form.show_fields("strip", (lot, size, findings))
    editor(form, size).setText("14")
    editor(form, findings).setFocus()
    form.go_back()
    assert form.window().focusWidget() is editor(form, lot)
    editor(form, lot).setText("SK-1")
    editor(form, size).setFocus()
    form.go_back()
    assert form.window().focusWidget() is editor(form, size), "what comes after may stay empty"


def test_a_refusal_leads_to_the_field_that_it_names(form):
    editor(form, PIN).setFocus()
    form.go_back("calibration.depth")
    assert form.window().focusWidget() is editor(form, AMOUNT)
    form.go_back("nowhere")
    assert form.window().focusWidget() is editor(form, TEXT), "the first that was passed over"


# --- a choice that follows another -----------------------------------------------------------

FAMILY = FieldView("family", "Family", FieldKind.CHOICE, choices=(("A", "a"), ("B", "b")))
LOT = FieldView(
    "lot",
    "Oil lot",
    FieldKind.CHOICE,
    hint="choose the family first",
    narrowed_by="family",
    narrowed=(
        Narrowed("A", (("L1", "lot 1"), ("L2", "lot 2"))),
        Narrowed("B", (), "no lot of it is here"),
    ),
)


def offered(form) -> list[str]:
    lots = editor(form, LOT)
    return [lots.itemData(n) for n in range(lots.count())]


def hint(form) -> str:
    return next(row.hint.text() for row in form.rows if row.field.id == LOT.id)


def test_a_choice_offers_what_goes_with_another(form):
    form.show_fields("next", (TEXT, FAMILY, LOT))
    assert (offered(form), hint(form)) == ([], "choose the family first")
    QTest.keyClick(editor(form, FAMILY), Qt.Key.Key_Down)
    assert (offered(form), hint(form)) == (["L1", "L2"], "")
    assert form.values()["lot"] == "", "nobody has chosen one"
    QTest.keyClick(editor(form, LOT), Qt.Key.Key_Down)
    form.show_fields("next", (replace(TEXT), replace(FAMILY), replace(LOT)))
    assert form.values()["lot"] == "L1"
    QTest.keyClick(editor(form, FAMILY), Qt.Key.Key_Down)
    assert (offered(form), hint(form)) == ([], "no lot of it is here")
    assert form.values() == {"serial": "", "family": "B", "lot": ""}


def test_a_choice_keeps_what_is_chosen_when_others_come(form):
    form.show_fields("next", (FAMILY, LOT))
    QTest.keyClick(editor(form, FAMILY), Qt.Key.Key_Down)
    QTest.keyClick(editor(form, LOT), Qt.Key.Key_End)
    more = (("L0", "lot 0"), ("L1", "lot 1"), ("L2", "lot 2"))
    form.show_fields("next", (FAMILY, replace(LOT, narrowed=(Narrowed("A", more),))))
    assert offered(form) == ["L0", "L1", "L2"]
    assert form.values() == {"family": "A", "lot": "L2"}


def test_the_station_gives_both_at_once(form):
    form.show_fields("next", (FAMILY, LOT))
    form.show_fields("next", (replace(FAMILY, value="A"), replace(LOT, value="L2")))
    assert form.values() == {"family": "A", "lot": "L2"}
    form.show_fields("other", (replace(FAMILY, value="A"), replace(LOT, value="L2")))
    assert form.values() == {"family": "A", "lot": "L2"}, "in a new form too"


WITNESS = FieldView("witness", "Witness", FieldKind.TEXT, only_with=CHECK.id)


@pytest.mark.parametrize("size", [(500, 500), (700, 500)])
def test_a_field_is_there_only_with_the_tick_it_belongs_to(shown, size):
    form = shown(Form(), size=size)
    form.show_fields("step", (TEXT, CHECK, WITNESS, PIN))
    QApplication.processEvents()
    witness = editor(form, WITNESS)
    assert not witness.isVisible()
    QTest.mouseClick(editor(form, CHECK), Qt.MouseButton.LeftButton)
    assert witness.isVisible()
    QTest.keyClicks(witness, "kern")
    assert form.values()["witness"] == "kern"
    QTest.mouseClick(editor(form, CHECK), Qt.MouseButton.LeftButton)
    assert not witness.isVisible()
    assert form.values()["witness"] == "", "what is not shown says nothing"


def test_enter_passes_over_a_field_that_is_not_there(form):
    form.show_fields("next", (CHECK, TEXT, WITNESS, PIN))
    editor(form, TEXT).setFocus()
    QTest.keyClick(editor(form, TEXT), Qt.Key.Key_Return)
    assert form.window().focusWidget() is editor(form, PIN)


def test_a_tick_of_the_station_brings_its_field(form):
    form.show_fields("next", (replace(CHECK, value="yes"), WITNESS))
    assert editor(form, WITNESS).isVisible()
    form.show_fields("next", (CHECK, WITNESS))
    assert not editor(form, WITNESS).isVisible()


def test_a_name_that_is_clicked_leads_to_its_pin_and_the_arrows_stay(shown):
    form = shown(Form(buttons_up_to=5), size=(700, 500))
    form.show_fields("sign-in", (CHOICE, PIN))
    names = editor(form, CHOICE)
    names.setFocus()
    QTest.keyClick(form.window().focusWidget(), Qt.Key.Key_Down)
    assert names.isAncestorOf(form.window().focusWidget())
    QTest.mouseClick(names.answers[1], Qt.MouseButton.LeftButton)
    assert form.window().focusWidget() is editor(form, PIN)
    form.show_fields("strip", (CHOICE, CHECK))
    QTest.mouseClick(editor(form, CHOICE).answers[0], Qt.MouseButton.LeftButton)
    assert form.window().focusWidget() is not editor(form, CHECK)
