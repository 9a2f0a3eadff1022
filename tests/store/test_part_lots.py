from benchstation.domain.events import StepSigned
from benchstation.domain.inputs.line import Noted
from benchstation.domain.inputs.material import MaterialTaken
from benchstation.domain.inputs.part import PartFitted
from benchstation.domain.inputs.text import Written
from benchstation.domain.inputs.torque import Tightened
from benchstation.domain.materials import Sort, Supplied
from benchstation.store.queries import (
    last_part_lots,
    units_with_material,
    units_with_part_lot,
    use_of_materials,
)
from benchstation.store.search import find_units


def fitted(unit, step="kit", **lots):
    parts = (
        PartFitted(f"lot{n}", "seal", number.replace("_", "-"), 1, lot)
        for n, (number, lot) in enumerate(lots.items(), 1)
    )
    return StepSigned(unit, step, tuple(parts))


def ids(rows):
    return [row.unit_id for row in rows]


def test_a_part_lot_finds_its_units(store, add, opening, filing):
    add(opening("u1", "MR-1"), fitted("u1", RS_14="K-88a", GS_4="G-2"), filing("u1"))
    add(opening("u2", "MR-2"), fitted("u2", RS_14="K-89"), filing("u2"))
    add(opening("u3", "MR-3"), fitted("u3", RS_14="k-88A"), filing("u3"))
    assert ids(units_with_part_lot(store, "K-88A")) == ["u3", "u1"]
    assert ids(find_units(store, "k-88")) == ["u3", "u1"]
    assert ids(find_units(store, "G-2")) == ["u1"]
    assert units_with_part_lot(store, "K-8") == []


def test_a_step_signed_anew_replaces_its_lots(store, add, opening):
    add(opening("u1"), fitted("u1", RS_14="wrong"), fitted("u1", step="other", GS_4="G-2"))
    add(fitted("u1", RS_14="right"))
    assert units_with_part_lot(store, "wrong") == []
    assert ids(units_with_part_lot(store, "right")) == ["u1"]
    assert ids(units_with_part_lot(store, "G-2")) == ["u1"]


def test_the_tables_are_made_again_from_the_journal(store, add, opening):
    add(opening("u1"), fitted("u1", RS_14="K-88"))
    store.rebuild_projections()
    assert ids(units_with_part_lot(store, "K-88")) == ["u1"]
    assert store.verify().problem == ""


def test_the_last_filed_unit_of_the_family_gives_its_lots(store, add, opening, filing):
    assert last_part_lots(store, "MR 46 front") == ("", {})
    add(opening("u1", "MR-1"), fitted("u1", RS_14="K-1", RR_46=""), filing("u1"))
    add(opening("u2", "MR-2", family="other"), fitted("u2", RS_14="K-2"), filing("u2"))
    add(opening("u3", "MR-3"), filing("u3"))
    add(opening("u4", "MR-4"), fitted("u4", RS_14="K-4"))
    assert last_part_lots(store, "MR 46 front") == ("MR-1", {"RS-14": "K-1"})


def test_a_lot_that_was_typed_under_any_label_is_found(store, add, opening):
    add(opening("u1"), StepSigned("u1", "strip", (Noted("note1", "Seal kit lot", "K-88a"),)))
    add(StepSigned("u1", "remarks", (Written("text1", "Remarks", "x" * 300 + " oil from Z-9"),)))
    assert ids(find_units(store, "k-88A")) == ["u1"]
    for words in ("z-9", "oil from z", "from"):
        assert ids(find_units(store, words)) == ["u1"]
    add(StepSigned("u1", "remarks", (Written("text1", "Remarks", "Y" * 300),)))
    assert ids(find_units(store, "z-9")) == [], "signed again"
    assert ids(units_with_material(store, "kit", "SK-46", "K-88A")) == ["u1"], "typed before"


def test_kits_and_wrenches_find_their_units_and_are_counted(store, add, opening, filing):
    there = Supplied("A", "")
    for unit, serial in (("u1", "MR-1"), ("u2", "MR-2")):
        kit = MaterialTaken("material1", "Seal kit", Sort.KIT, "SK-46", "K-88", there)
        torque = Tightened("torque1", "Screw", 8.0, 8.0, 0.5, "TW-07", there)
        add(opening(unit, serial), StepSigned(unit, "strip", (kit,)))
        add(StepSigned(unit, "screw", (torque,)), filing(unit, serial))
    assert ids(units_with_material(store, "kit", "sk-46", "k-88")) == ["u2", "u1"]
    assert units_with_material(store, "kit", "SK-50", "K-88") == []
    assert ids(find_units(store, "tw-07")) == ["u2", "u1"]
    used = use_of_materials(store, ["K-88", "tw-07", "none"])
    assert used == {("kit", "sk-46", "k-88"): 2, ("torque wrench", "", "tw-07"): 2}
