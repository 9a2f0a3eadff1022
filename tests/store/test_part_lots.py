from benchstation.domain.events import StepSigned
from benchstation.domain.inputs.part import PartFitted
from benchstation.store.queries import find_units, last_part_lots, units_with_part_lot


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
