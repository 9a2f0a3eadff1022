"""The page Materials: lots by each way their density is known, closing them, and the bottle."""

from datetime import date

import pytest

from benchstation.bench.targets import present_oil_target
from benchstation.demo import shop as demo
from benchstation.demo.materials import OVERDUE_WRENCH
from benchstation.domain.events import OilLotClosed, OilLotReceived
from benchstation.domain.specification import StepKind
from benchstation.domain.surroundings import Surroundings
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.physics.oil import Oil
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.task import task
from benchstation.screens.materials.page import Materials
from benchstation.screens.model.materials import BOTTLE
from benchstation.store.errors import NotOnRecordError
from benchstation.store.queries import use_of_lots
from tests.stepped_bench import make_bench

METRIC, POUNDS = QuantityFormatter(UnitSystem.METRIC), QuantityFormatter(UnitSystem.INCH_POUND)
NEW = {
    "lot": "L-0500",
    "oil": "ISO VG 15 damper oil",
    "source": "certificate 88",
    "supplier": "Supplier A",
}
DAY = date(2026, 3, 3)
SURE = {"density": "0.8520", "u": "0.0003"}


@pytest.fixture
def lead(bench):
    bench.sign_in("oberhauser")
    return bench


def act(bench, action, **fields):
    return bench.session.act(action, fields)


def materials(bench) -> Materials:
    return Materials(
        bench.store, bench.session.shop, bench.session.air, lambda: bench.session.today
    )


def opened(bench, key, words=METRIC):
    return materials(bench).open(key, bench.session.person, words)


def terms(detail) -> dict[str, str]:
    return {term.label: term.value for group in detail.groups for term in group.terms}


def offered(bench, family: str) -> dict[str, str]:
    """Return the lots that the form of the next unit offers for a family."""
    field = task(lead_off(bench), METRIC).fields[2]
    return next(dict(narrowed.choices) for narrowed in field.narrowed if narrowed.by == family)


def test_a_lot_by_certificate_is_offered_at_once_and_after_a_restart(lead, tmp_path):
    act(lead, "receive_certificate", **NEW, **SURE)
    lot = lead.session.shop.lots["L-0500"]
    assert (lot.rho15_kg_m3, lot.alpha_per_k) == (852.0, None)
    assert lot.u_rho_rel == pytest.approx(0.3 / 852.0)
    assert "L-0500" in offered(lead, "mr-46-front")
    assert "L-0500" not in offered(lead, "carrier-50"), "another oil"
    entry = lead.store.entries(kind=OilLotReceived.kind)[-1]
    assert entry.person == "oberhauser"
    lead.store.close()
    again = make_bench(tmp_path)
    assert again.session.shop.lots["L-0500"] == lot
    again.store.close()


def lead_off(bench):
    """Return the bench with a technician before the form of the next unit."""
    bench.sign_in()
    return bench.session


def test_a_certificate_with_the_lots_own_expansion(lead):
    act(lead, "receive_certificate", **NEW, **SURE, expansion="8.1e-4")
    assert lead.session.shop.lots["L-0500"].alpha_per_k == pytest.approx(8.1e-4)
    assert terms(opened(lead, "L-0500"))["Expansion coefficient"] == "810 × 10⁻⁶ 1/K"


def test_a_hydrometer_reading_is_brought_to_15_degrees(lead):
    act(
        lead,
        "receive_hydrometer",
        **NEW,
        density="0.8450 g/mL",
        u="0.5 kg/m3",
        at="25 degC",
        u_at="0.2 K",
    )
    lot = lead.session.shop.lots["L-0500"]
    assert Oil(lot.rho15_kg_m3).density(298.15) == pytest.approx(845.0, abs=1e-6)
    assert lot.u_rho_rel > 0.5 / 845.0, "its temperature and the expansion come on top"


def test_two_densities_give_the_own_expansion(lead):
    act(
        lead,
        "receive_two_densities",
        **NEW,
        density="831.0 kg/m3",
        at="12 degC",
        density2="815.9 kg/m3",
        at2="35 degC",
        u="0.2 kg/m3",
        u_at="0.2 K",
    )
    lot = lead.session.shop.lots["L-0500"]
    oil = Oil(lot.rho15_kg_m3, lot.alpha_per_k)
    assert oil.density(285.15) == pytest.approx(831.0, abs=1e-6)
    assert oil.density(308.15) == pytest.approx(815.9, abs=1e-6)


def test_a_number_without_a_unit_is_in_the_unit_that_is_shown(lead):
    reading = {"density": "0.845", "u": "0.0003", "at": "68", "u_at": "0.5"}
    act(lead, "receive_hydrometer", **NEW, **reading, units="inch-pound")
    lot = lead.session.shop.lots["L-0500"]
    assert Oil(lot.rho15_kg_m3).density(293.15) == pytest.approx(845.0, rel=1e-9)
    hints = {f.id: f.hint for f in opened(lead, BOTTLE, POUNDS).forms["receive_hydrometer"].fields}
    assert (hints["density"], hints["at"]) == ("g/mL", "°F")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"lot": ""}, "lot's name is missing"),
        ({"lot": "x" * 65}, "lot's name is missing"),
        ({"lot": "L-0417"}, "is on record"),
        ({"oil": " "}, "oil is missing"),
        ({"source": "a\x00b"}, "source of the density is missing"),
        ({"u": "0 g/mL"}, "uncertainty of the density is missing"),
        ({"u": ""}, "Nothing is entered"),
        ({"density": "2 g/mL"}, "oil density"),
        ({"density": "nan"}, "not a number"),
        ({"expansion": "5"}, "expansion"),
    ],
)
def test_a_lot_that_cannot_be_leaves_nothing(lead, changed, said):
    before = lead.store.head()
    with pytest.raises(StationError, match=said):
        act(lead, "receive_certificate", **{**NEW, **SURE, **changed})
    assert lead.store.head() == before


def test_a_lot_is_used_up_and_offered_no_longer(lead, tmp_path):
    act(lead, "use_up", lot_open="L-0432")
    closed = lead.store.entries(kind=OilLotClosed.kind)[-1]
    assert (closed.event.why, closed.person) == ("used up", "oberhauser")
    assert offered(lead, "carrier-50") == {}
    with pytest.raises(NotAllowedError, match="L-0432 is used up"):
        act(lead, "open", serial="T-1", specification="carrier-50", lot="L-0432")
    lead.sign_in("oberhauser")
    with pytest.raises(NotAllowedError, match="used up already"):
        act(lead, "withdraw_lot", **demo.SIGNED, lot_open="L-0432", reason="r")
    lead.store.close()
    again = make_bench(tmp_path)
    assert [lot.lot for lot in again.session.shop.open_lots(DAY)] == ["L-0417", "L-0421", "L-0440"]
    again.store.close()


def test_a_withdrawn_lot_on_the_bench_is_told_and_the_unit_goes_on(bench):
    bench.work_to(StepKind.MEASURE)
    bench.sign_in("oberhauser")
    with pytest.raises(NotAllowedError, match="needs a reason"):
        act(bench, "withdraw_lot", **demo.SIGNED, lot_open="L-0417")
    said = act(bench, "withdraw_lot", **demo.SIGNED, lot_open="L-0417", reason="water in it")
    assert said == "Lot L-0417 is withdrawn: no new unit is offered it. T-1 on the bench has it."
    assert bench.session.message.needs_attention
    assert present_oil_target(bench.session).net_shown_kg > 0
    assert terms(opened(bench, "L-0417"))["Units with it"] == "1"


@pytest.mark.parametrize("who", ["kofler", "anders"])
@pytest.mark.parametrize("action", ["receive_certificate", "use_up", "withdraw_lot"])
def test_only_a_lead_changes_the_materials(bench, who, action):
    bench.sign_in(who)
    with pytest.raises(NotAllowedError, match="is no bench lead"):
        act(bench, action, lot_open="L-0417", reason="r", **NEW, **SURE)
    assert not [a for a in opened(bench, "L-0417").actions if a.enabled and a.id != "show_units"]


def test_what_went_into_units_is_summed(bench):
    bench.work_to(None)
    net_kg = bench.store.entries(kind="unit.filed")[0].event.record["oil"]["net_shown_kg"]
    use = use_of_lots(bench.store, ["L-0417", "L-0421"])
    assert set(use) == {"L-0417"}
    assert (use["L-0417"].units, use["L-0417"].weighed) == (1, 1)
    assert use["L-0417"].net_oil_kg == pytest.approx(net_kg)
    shown = terms(opened(bench, "L-0417"))
    assert shown["Net oil in them"] == METRIC.amount(net_kg)
    assert shown["Rescue vehicle front, 46 mm"] == "revision 1"
    oil, use = materials(bench).rows(METRIC)[0].below
    assert oil == "ISO VG 15 damper oil"
    assert use.startswith("1 unit,")


def test_rows_are_open_lots_then_the_bottle_then_closed_ones(lead):
    act(lead, "use_up", lot_open="L-0417")
    rows = materials(lead).rows(METRIC)
    assert [row.key for row in rows][:4] == ["L-0421", "L-0432", "L-0440", BOTTLE]
    states = [row.state for row in rows]
    assert states[:4] == ["open", "open", "open", ""]
    assert set(states[4:-2]) == {"open"}, "kits, parts, wrench and weight"
    assert [(row.title, row.state) for row in rows[-2:]] == [
        ("L-0417", "used up"),
        (OVERDUE_WRENCH, "overdue"),
    ]


def test_a_bottle_as_the_command_line_works_it_out(bench, capsys):
    from benchstation.cli.main import main

    given = {"family": "mr-46-front", "volume": "10", "gauge": "150", "at": "20 degC"}
    air = Surroundings(293.15, 101_325.0, 0.45)
    shown = terms(
        Materials(bench.store, bench.session.shop, lambda: air, lambda: DAY).work_out(
            given, None, METRIC
        )
    )
    spec = bench.session.shop.specifications["mr-46-front", 1]
    charge = spec.gas.gauge_pressure
    assert shown["Charge"] == METRIC.gauge(charge), "at the reference temperature it is the charge"
    oil = Oil(spec.oil.typical_rho15)
    gas = spec.charged(oil).gas_volume_m3(spec.gas.reference_temperature)
    arguments = ("calc", "bottle", "--bottle", "10 L", "--gauge", "150 bar")
    arguments += ("--charge", f"{charge} Pa", "--gas-volume", f"{gas * 1e6} mL")
    arguments += ("--at", "20 degC", "--barometer", f"{air.pressure_pa} Pa")
    assert main(list(arguments)) == 0
    line = next(row for row in capsys.readouterr().out.splitlines() if "Fills left" in row)
    assert f" {shown['Fills left']}" in line


def test_a_bottle_below_the_charge_gives_none_and_shows_in_other_units(bench):
    given = {"family": "mr-46-front", "volume": "10 L", "gauge": "100 psi", "dead": "3 mL"}
    shown = terms(materials(bench).work_out(given, None, POUNDS))
    assert (shown["Fills left"], shown["After the last"]) == ("0", "no fill left")
    assert "psi" in shown["Change the bottle below"]


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"volume": "10", "gauge": "150"}, "no family"),
        ({"family": "mr-46-front", "gauge": "150"}, "Nothing is entered"),
        ({"family": "mr-46-front", "volume": "10", "gauge": "-3"}, "bottle pressure"),
    ],
)
def test_a_bottle_that_is_not_said_whole_is_refused(bench, fields, said):
    with pytest.raises(StationError, match=said):
        materials(bench).work_out(fields, None, METRIC)


def test_no_such_lot_is_said_so(bench):
    with pytest.raises(NotOnRecordError):
        opened(bench, "L-9")
