"""What charts are drawn from: kept as units end, and read for any group without a record."""

import re
from datetime import timedelta

import pytest
from sqlalchemy import event

from benchstation.domain.disposition import Standing
from benchstation.domain.events import (
    CheckWithdrawn,
    InstrumentChecked,
    MassCaptured,
    RebuildAbandoned,
    RebuildOpened,
    StepSigned,
    UnitDisposed,
    UnitFiled,
)
from benchstation.domain.inputs.part import PartFitted
from benchstation.domain.quality import Quantity
from benchstation.screens.model.quality import QualityQuestion
from benchstation.screens.quality.study import answered, choices_of
from benchstation.store import figures
from benchstation.store.engine import open_store
from benchstation.store.figures import (
    By,
    Group,
    Yield,
    checked_instruments,
    deviations_by_step,
    families,
    has_units,
    last_checks_of,
    last_figures,
    names,
    yield_between,
)
from tests.store.conftest import START


def record_of(n, *, signer="ines", attempts=("pass",), deviations=(), rework=(), **more):
    """Return what of a record is charted: oil n tenths of a gram over, and so on."""
    return {
        "oil": {"net_shown_kg": 0.2 + n * 1e-4, "target_shown_kg": 0.2, "tolerance_kg": 2e-3,
                "u_kg": 1e-4, "decision": "pass"},
        "charge": {"settled_gauge_pa": 15e5 + n, "target_gauge_pa": 15e5, "tolerance_pa": 4e4,
                   "u_pa": 5e3, "decision": "pass"},
        "hold": {"leak_pa_m3_s": n * 1e-9, "allowed_pa_m3_s": 2e-7, "u_leak_pa_m3_s": 1e-8,
                 "u_scatter_pa_m3_s": 5e-9, "slow_pa_m3_s": 2e-9, "gauge_stuck": n == 3,
                 "decision": "pass"},
        "steps": [{"id": "fill", "title": "Weigh in", "person": signer},
                  {"id": "charge", "title": "Charge", "person": "kim"}],
        "attempts": [{"step": "fill", "what": "oil", "decision": one} for one in attempts]
        + [{"step": "charge", "what": "charge", "decision": "pass"}],
        "deviations": [{"step": step} for step in deviations],
        "rework": [{"step": step} for step in rework],
        **more,
    }  # fmt: skip


def end(
    store, clock, n, *, family="MR 46", lot="L-1", kit="K-1", decision="pass", name=None, **record
):
    """Open and file a unit by ines, with a scale and a kit."""
    number = n if name is None else name
    unit, serial = f"u{number}", f"S-{number}"
    opened = RebuildOpened(unit, serial, family, "mr", 2, lot)
    kit = StepSigned(unit, "kit", (PartFitted("lot1", "seal", "P-1", 1, kit),))
    poured = MassCaptured(unit, "fill", "pour", "scale-1", 0.2, 1e-5, 9, 1e-4, "", "raw")
    filed = UnitFiled(unit, serial, decision, False, record_of(n, **record))
    store.append([opened, kit, poured, filed], person="ines", utc=clock())
    return unit


def values(store, quantity=Quantity.OIL, group=Group("MR 46"), count=500):  # noqa: B008
    return [figure.serial for figure in last_figures(store, quantity, group, count)]


def test_a_unit_has_the_figures_of_its_record(store, clock):
    end(store, clock, 3)
    (oil,) = last_figures(store, Quantity.OIL, Group("mr 46"))
    assert (oil.value, oil.target, oil.limit, oil.u) == (0.2003, 0.2, 2e-3, 1e-4)
    assert oil.deviation == pytest.approx(3e-4)
    assert (oil.serial, oil.decision, oil.specification) == ("S-3", "pass", "mr, revision 2")
    assert oil.standing is Standing.NOT_RELEASED
    assert (oil.u_scatter, oil.slow, oil.stuck) == (None, 0.0, False)
    (charge,) = last_figures(store, Quantity.CHARGE, Group("MR 46"))
    assert (charge.value, charge.target, charge.limit, charge.u) == (1500003.0, 15e5, 4e4, 5e3)
    (leak,) = last_figures(store, Quantity.LEAK, Group("MR 46"))
    assert (leak.value, leak.target, leak.limit, leak.u) == (pytest.approx(3e-9), 0.0, 2e-7, 1e-8)
    assert (leak.u_scatter, leak.slow, leak.stuck) == (5e-9, 2e-9, True)


def test_the_last_units_stand_in_their_order_in_time(store, clock):
    for n in range(5):
        end(store, clock, n, family="MR 46" if n != 2 else "K-6")
    assert values(store) == ["S-0", "S-1", "S-3", "S-4"]
    assert values(store, count=2) == ["S-3", "S-4"]
    assert values(store, group=Group()) == [f"S-{n}" for n in range(5)]
    assert families(store) == ("K-6", "MR 46")


def test_held_rejected_and_reworked_units_are_among_them(store, clock):
    for n in range(3):
        end(store, clock, n, rework=("fill",) * n)
    for n, word in enumerate(("held", "rejected")):
        store.append([UnitDisposed(f"u{n}", word, "seen")], person="uta", utc=clock())
    found = last_figures(store, Quantity.OIL, Group("MR 46"))
    assert [one.standing for one in found] == [
        Standing.ON_HOLD, Standing.REJECTED, Standing.NOT_RELEASED,
    ]  # fmt: skip
    assert [one.reopened for one in found] == [0, 1, 2]
    assert [one.first_pass for one in found] == [True, False, False]


def test_a_technician_is_who_signed_the_step_of_the_figure(store, clock):
    end(store, clock, 1, signer="tom")
    end(store, clock, 2)
    by = By.TECHNICIAN
    assert names(store, Group("MR 46", by), Quantity.OIL) == ("ines", "tom")
    assert names(store, Group("MR 46", by), Quantity.CHARGE) == ("kim",)
    assert values(store, group=Group("MR 46", by, "tom")) == ["S-1"]
    assert values(store, Quantity.LEAK, Group("", by, "kim")) == ["S-1", "S-2"]


def test_groups_by_lot_instrument_and_bench(store, clock):
    end(store, clock, 1, lot="L-1", kit="K-1")
    end(store, clock, 2, lot="L-2", kit="K-1")
    assert names(store, Group("MR 46", By.LOT), Quantity.OIL) == ("K-1", "L-1", "L-2")
    assert has_units(store, Group("MR 46", By.LOT, "L-1"), Quantity.OIL)
    assert not has_units(store, Group("MR 46", By.LOT, "L-9"), Quantity.OIL)
    assert values(store, group=Group("MR 46", By.LOT, "K-1")) == ["S-1", "S-2"]
    assert values(store, group=Group("MR 46", By.LOT, "L-2")) == ["S-2"]
    assert names(store, Group("", By.INSTRUMENT), Quantity.OIL) == ("scale-1 at bench-1",)
    assert values(store, group=Group("", By.INSTRUMENT, "scale-1 at bench-1")) == ["S-1", "S-2"]
    assert values(store, group=Group("MR 46", By.BENCH, "bench-1")) == ["S-1", "S-2"]


def test_of_many_lots_those_used_last_are_offered_and_an_old_one_is_still_charted(
    store, clock, monkeypatch
):
    for n in range(6):
        end(store, clock, n, lot=f"L-{n}", kit="")
    monkeypatch.setattr(figures, "_LAST_LOTS", figures.last_lots(2))
    assert names(store, Group("MR 46", By.LOT), Quantity.OIL) == ("L-4", "L-5")
    asked = QualityQuestion("oil", "MR 46", "lot", "L-0")
    assert choices_of(store, asked, {})[0] == ("L-0", "L-0")
    never = QualityQuestion("oil", "MR 46", "lot", "L-9")
    assert answered(never, choices_of(store, never, {})).name == "L-4"


def test_the_yield_counts_what_came_out_right_the_first_time(store, clock):
    end(store, clock, 0)
    end(store, clock, 1, attempts=("fail", "pass"))
    end(store, clock, 2, deviations=("fill",))
    end(store, clock, 3, decision="deviation")
    end(store, clock, 4, rework=("fill",))
    opened = RebuildOpened("u5", "S-5", "MR 46", "mr", 2, "L-1")
    given_up = RebuildAbandoned("u5", "bent rod")
    store.append([opened, given_up], person="ines", utc=clock())
    a_day = START, START + timedelta(days=1)
    end(store, clock, 6, attempts=("undecided", "pass"))
    assert yield_between(store, Quantity.OIL, Group("MR 46"), *a_day) == Yield(7, 2)
    assert yield_between(store, Quantity.OIL, Group("other"), *a_day) == Yield(0, 0)
    later = a_day[1], a_day[1] + timedelta(days=1)
    assert yield_between(store, Quantity.OIL, Group(), *later) == Yield(0, 0)
    assert values(store) == ["S-0", "S-1", "S-2", "S-3", "S-4", "S-6"], (
        "what was given up has no figures"
    )


def test_deviations_by_step(store, clock):
    end(store, clock, 0, deviations=("fill", "fill", "charge"))
    end(store, clock, 1, deviations=("fill", "else"))
    end(store, clock, 2)
    found = deviations_by_step(store, last_figures(store, Quantity.OIL, Group("MR 46")))
    assert found == (("Weigh in", 3, 2), ("Charge", 1, 1), ("else", 1, 1))
    assert deviations_by_step(store, ()) == ()


@pytest.mark.parametrize(
    "record",
    [{}, {"oil": 3}, {"oil": {"net_shown_kg": "much", "decision": "x" * 99}},
     {"oil": {"net_shown_kg": True}}, {"deviations": "none", "steps": [1], "attempts": {}}],
)  # fmt: skip
def test_a_record_without_figures_is_filed_all_the_same(store, clock, record):
    opened = RebuildOpened("u1", "S-1", "MR 46", "mr", 2, "L-1")
    filed = UnitFiled("u1", "S-1", "pass", False, record)
    store.append([opened, filed], person="ines", utc=clock())
    assert values(store) == []
    assert store.verify().ok


def test_checks_of_an_instrument(store, clock, samples):
    store.append([samples["instrument.registered"]], person="uta", utc=clock())
    checks = [
        InstrumentChecked("thing", "zero check", 0.0, 10.0 * n, 2000.0, True) for n in range(4)
    ]
    entries = store.append(checks, person="ines", utc=clock())
    withdrawn = CheckWithdrawn("thing", entries[1].seq, "by mistake")
    store.append([withdrawn], person="ines", utc=clock())
    assert checked_instruments(store) == (("thing at bench-1", "thing"),)
    found = last_checks_of(store, "thing at bench-1")
    assert [one.error for one in found] == [0.0, 20.0, 30.0]
    assert [one.error for one in last_checks_of(store, "thing at bench-1", 1)] == [30.0]
    assert last_checks_of(store, "other at bench-1") == ()


# --- a whole shop, and many units -----------------------------------------------------------------


def asked(store, ask):
    """Return what is found, and the statements with which it was found."""
    found = []

    def note(_, __, statement, parameters, ___, ____):
        if statement.startswith("SELECT"):
            found.append((statement, parameters))

    event.listen(store._readers, "before_cursor_execute", note)
    ask()
    event.remove(store._readers, "before_cursor_execute", note)
    return found


def every_question(store):
    group = Group("MR 46", By.TECHNICIAN, "ines")
    for quantity in (Quantity.OIL, Quantity.CHARGE, Quantity.LEAK):
        last_figures(store, quantity, group)
    names(store, group, Quantity.OIL)
    names(store, Group("MR 46", By.LOT), Quantity.OIL)
    has_units(store, group, Quantity.OIL)
    families(store)
    yield_between(store, Quantity.OIL, group, START, START + timedelta(days=9))
    deviations_by_step(store, last_figures(store, Quantity.OIL, group))


def test_no_question_reads_a_whole_table(store, clock):
    end(store, clock, 1)
    statements = asked(store, lambda: every_question(store))
    assert len(statements) >= 8
    with store.reading() as connection:
        for statement, parameters in statements:
            plan = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters)
            lines = [row[3] for row in plan]
            assert lines
            # A part of the statement that is limited itself may be read whole.
            read = [line for line in lines if re.match(r"SCAN (?!anon_\d+$)", line)]
            assert read == [], (statement, lines)
            assert not any("B-TREE FOR ORDER BY" in line for line in lines), (statement, lines)


def test_units_without_the_figure_are_looked_through_to_an_end(store, clock, monkeypatch):
    """A family that is never charged has no chart of its charge, and asking costs no more."""
    monkeypatch.setattr(figures, "LOOKED_THROUGH", 4)

    def uncharged(*units) -> None:
        for n in units:
            end(store, clock, n, charge={})

    def steps() -> int:
        found: list[int] = []
        with store.reading() as connection:
            raw = connection.connection.dbapi_connection
            raw.set_progress_handler(lambda: found.append(1) and None, 10)
            last_figures(store, Quantity.CHARGE, Group("MR 46"))
            raw.set_progress_handler(None, 0)
        return len(found)

    end(store, clock, 0)
    uncharged(1, 2, 3)
    assert values(store, Quantity.CHARGE) == ["S-0"]
    assert values(store, Quantity.OIL, count=2) == ["S-2", "S-3"]
    uncharged(4, 5)
    assert values(store, Quantity.CHARGE) == []
    few = steps()
    uncharged(*range(6, 66))
    assert abs(steps() - few) <= 2


def test_a_shop_has_the_units_of_all_its_benches(shop, tmp_path, clock):
    from benchstation.store.shop.shop_store import open_shop

    with open_shop(shop.login_address("shop_desk")) as desk:
        for bench in ("bench-1", "bench-2"):
            with open_store(tmp_path / f"{bench}.db", bench) as own:
                end(own, clock, int(bench[-1]), deviations=("fill",))
                shop.take(own)
        desk.catch_up()
        assert values(desk) == ["S-1", "S-2"]
        assert names(desk, Group("MR 46", By.BENCH), Quantity.OIL) == ("bench-1", "bench-2")
        assert names(desk, Group("MR 46", By.INSTRUMENT), Quantity.OIL) == (
            "scale-1 at bench-1", "scale-1 at bench-2",
        )  # fmt: skip
        assert values(desk, group=Group("MR 46", By.BENCH, "bench-2")) == ["S-2"]
        assert families(desk) == ("MR 46",)
        figures = last_figures(desk, Quantity.LEAK, Group("MR 46"))
        assert deviations_by_step(desk, figures) == (("Weigh in", 2, 2),)
        a_day = START, START + timedelta(days=1)
        assert yield_between(desk, Quantity.OIL, Group(), *a_day) == Yield(2, 0)
