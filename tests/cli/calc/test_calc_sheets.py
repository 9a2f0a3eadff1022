"""The sheets for oil, gas, leak and bottle: published values through the command line's door."""

from importlib.resources import files
from pathlib import Path

import pytest

from benchstation.cli.calc import compute
from benchstation.domain.specification import specification_from_toml
from benchstation.driver_api.errors import StationError
from benchstation.physics.oil import Oil
from benchstation.quantities.units import UnitSystem
from tests.reference_rows import assert_agrees, row, rows

METRIC = UnitSystem.METRIC
FRONT = str(files("resources") / "demo" / "specifications" / "mr-46-front.toml")


def sheet(name, **texts):
    return compute(name, {k.replace("_", "-"): v for k, v in texts.items()}, METRIC)


def values(name, **texts):
    return {line.symbol: line.value for line in sheet(name, **texts).lines}


# --- oil -----------------------------------------------------------------------------------------

OIL = {"volume": "262 mL", "density": "0.8513 g/mL"}


@pytest.mark.parametrize(
    "expected", rows("oil_density_temperature.csv", quantity="lube_rho15_from_observed"), ids=str
)
def test_density_at_15_from_an_observed_one(expected):
    found = values(
        "oil",
        volume="1 L",
        density=f"{expected['rho_base_kg_m3']} kg/m3",
        density_at=f"{expected['temp']} degC",
    )
    assert_agrees(expected, found["rho15"])


def test_a_fill_by_hand():
    """262 mL, 851.3 kg/m3 at 15: rho(20) = 851.3 exp(-7.3746e-4 * 5 (1 + ...)) = 848.158; m =
    222.217 g; W/m = (1 - 1.2/848.2)/(1 - 1.2/8000) = 0.998735 in air of 1.2 kg/m3."""
    found = values("oil", **OIL)
    assert found["rho"] == pytest.approx(848.158, abs=1e-3)
    assert found["m"] == pytest.approx(222.217e-3, abs=1e-6)
    assert found["W"] / found["m"] == pytest.approx(0.998735, abs=3e-6)


def test_the_scale_and_the_volume_undo_each_other():
    there = values("oil", **OIL, bench="31 degC", altitude="800 m")
    back = values(
        "oil", shown=f"{there['W'] * 1e3!r} g", density="0.8513 g/mL", bench="31 degC",
        altitude="800 m",
    )  # fmt: skip
    assert back["V"] == pytest.approx(262e-6, rel=1e-9)
    assert back["m"] == pytest.approx(there["m"], rel=1e-9)


def test_two_densities_give_the_lots_own_expansion():
    """ln(858/826.4)/50 K = 7.505e-4; with the quadratic term 7.29e-4 (see the physics' tests)."""
    found = sheet(
        "oil", volume="262 mL", density="858 kg/m3", second_density="826.4 kg/m3",
        second_density_at="65 degC",
    )  # fmt: skip
    alpha = next(line for line in found.lines if line.symbol == "a")
    assert alpha.value == pytest.approx(7.292e-4, abs=5e-7)
    assert "two measured densities" in found.readable(explain=True)


def test_a_stated_expansion_is_used():
    found = values("oil", **OIL, expansion="8e-4 1/K")
    assert found["a"] == 8e-4
    with pytest.raises(StationError, match=r"--expansion: .*15 °C"):
        sheet("oil", **OIL, expansion="8e-4 1/K", density_at="20 degC")


def test_eyeing_is_warned_of_in_grams_only_where_it_matters():
    warm = sheet("oil", **OIL, bench="35 degC").readable(explain=False)
    assert "Warning" in warm
    assert "2.48 g would be missing" in warm
    assert "too much" in sheet("oil", **OIL, bench="5 degC").readable(explain=False)
    assert "Warning" not in sheet("oil", **OIL).readable(explain=False)


def test_an_unsure_density_makes_an_unsure_mass():
    sure = values("oil", **OIL, density_uncertainty="0.1 kg/m3")
    unsure = values("oil", **OIL, density_uncertainty="1 kg/m3")
    assert unsure["u_m"] > 5 * sure["u_m"]
    assert unsure["u_m"] == pytest.approx(262e-6 * 1.0, rel=0.02)


# --- gas -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "expected", rows("vessel_temperature_pressure.csv", quantity="isochoric_p2_abs"), ids=str
)
def test_a_vessel_at_another_temperature(expected):
    found = values(
        "gas",
        charge=f"{expected['p1_gauge_bar']} bar",
        at=f"{expected['T1_C']} degC",
        to=f"{expected['T2_C']} degC",
        barometer=f"{expected['p_baro_bar']} bar",
    )
    assert_agrees(expected, found["p2"] / 1e5)


@pytest.mark.parametrize(
    "expected", rows("isentropic_compression.csv", quantity="isentropic_p2_real"), ids=str
)
def test_a_fast_compression(expected):
    found = values(
        "gas",
        charge=f"{float(expected['p1_bar_abs']) - 1.0} bar",
        barometer="1 bar",
        at=f"{expected['T1_C']} degC",
        volume_ratio=expected["volume_ratio_V2_V1"],
    )
    assert_agrees(expected, found["p_fast"] / 1e5 + 1.0)
    assert found["p_slow"] <= found["p_poly"] <= found["p_fast"] or found["r"] > 1


def test_mass_and_the_cost_of_a_check():
    found = values("gas", charge="15 bar", volume="90 mL", dead_volume="3 mL")
    assert found["m"] == pytest.approx(90e-6 * 18.465, rel=1e-3)
    boyle = (16.01325 * 90 + 1.01325 * 3) / 93 - 1.01325
    assert found["p_check"] / 1e5 == pytest.approx(boyle, abs=0.01)
    assert found["dp_check"] == pytest.approx(15e5 - found["p_check"])
    with pytest.raises(StationError, match="--volume: is missing"):
        sheet("gas", charge="15 bar", dead_volume="3 mL")


# --- leak ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("expected", rows("leak.csv", quantity="qL_pressure_change"), ids=str)
def test_a_hold(expected):
    found = values(
        "leak",
        volume=f"{expected['V_L']} L",
        first=f"{float(expected['p1_bar_abs']) - 1.0!r} bar",
        last=f"{float(expected['p2_bar_abs']) - 1.0!r} bar",
        duration=f"{expected['dt_s']} s",
        barometer="1 bar",
    )
    assert found["q"] == pytest.approx(expected.number(), rel=1e-6)


@pytest.mark.parametrize(
    "expected", rows("leak.csv", quantity="pressure_change_by_temperature_only_real"), ids=str
)
def test_a_hold_that_cooled_or_warmed_leaks_nothing(expected):
    first, change = expected.number("p1_bar_abs") - 1.0, expected.number() * 1e-3
    found = sheet(
        "leak",
        volume="50 mL",
        first=f"{first!r} bar",
        last=f"{first + change!r} bar",
        duration="60 s",
        first_at=f"{expected['T1_C']} degC",
        last_at=f"{expected['T2_C']} degC",
        barometer="1 bar",
    )
    rate = next(line.value for line in found.lines if line.symbol == "q")
    assert rate == pytest.approx(0.0, abs=5e-3 * abs(change) * 1e5 * 50e-6 / 60)
    assert any("oil's expansion is not in it" in note for note in found.notes)


def test_a_charge_in_a_unit_moves_with_its_oil():
    """The physics' own unit: the same charge at 5 degC, with the oil's expansion and without."""
    unit = specification_from_toml(Path(FRONT).read_text("utf-8")).charged(Oil(851.0))
    whole = values("gas", charge="15 bar", to="5 degC", specification=FRONT)
    assert whole["p2_gauge"] == pytest.approx(unit.pressure_pa(278.15) - 101325.0, rel=1e-9)
    plain = sheet("gas", charge="15 bar", to="5 degC")
    found = {line.symbol: line.value for line in plain.lines}
    assert found["p2_gauge"] - whole["p2_gauge"] > 0.4e5
    assert any("oil's expansion is not in it" in note for note in plain.notes)
    less = values("gas", charge="15 bar", to="5 degC", specification=FRONT, oil="255 mL")
    assert less["V_T1"] == pytest.approx(whole["V_T1"] + 7e-6, abs=1e-9)
    with pytest.raises(StationError, match="--oil: needs --specification"):
        sheet("gas", charge="15 bar", to="5 degC", oil="255 mL")


def test_a_rate_in_the_units_people_use():
    """1 mbar L/s is 0.1 Pa m3/s and 59.215 cm3/min at 0 degC; 1e-6 Pa m3/s empty 50 mL by 6.3072
    bar in a year."""
    found = sheet("leak", volume="50 mL", rate="1e-6 Pa*m**3/s", first_at="0 degC")
    text = found.readable(explain=False)
    assert "1e-05 mbar L/s" in text
    published = row("leak.csv", quantity="unit_conversion:1 mbar L/s", unit="sccm (0 degC)")
    assert f"{1e-5 * published.number():.4g} cm3/min" in text
    assert "0.02 bar a day" in text


def test_the_shortest_hold_by_hand():
    """1.645 sqrt(2) 100 Pa 100 mL / 2e-3 Pa m3/s = 11.63 s."""
    found = values("leak", volume="100 mL", limit="2e-3 Pa*m**3/s", reading_uncertainty="100 Pa")
    assert found["t_min"] == pytest.approx(11.63, abs=0.01)
    assert "q" not in found


def test_a_limit_from_service_by_hand():
    """1 bar of 50 mL in a year: 50e-6 * 1e5 / 31.536e6 = 1.585e-7 Pa m3/s; a hold of 30 s with
    readings of 100 Pa tells 2 sqrt(2) 100 50e-6 / 30 = 4.71e-4, some 3000 times as much."""
    given = {"volume": "50 mL", "lost": "1 bar", "duration": "30 s"}
    found = values("leak", **given, reading_uncertainty="100 Pa")
    assert found["q_max"] == pytest.approx(1.585e-7, rel=1e-3)
    assert found["q_least"] == pytest.approx(4.71e-4, rel=1e-2)
    text = sheet("leak", volume="50 mL", lost="1 bar", within="3 year").readable(explain=False)
    assert "0.33 bar a year" in text
    with pytest.raises(StationError, match="--lost: either this or --limit"):
        sheet("leak", volume="50 mL", lost="1 bar", limit="1e-6 Pa*m**3/s")


def test_a_large_limit_says_what_it_is_in_a_unit():
    """2e-3 Pa m3/s of 90 mL: 22.2 Pa/s, 0.8 bar an hour."""
    given = {"volume": "90 mL", "limit": "2e-3 Pa*m**3/s", "reading_uncertainty": "100 Pa"}
    assert "0.80 bar an hour" in sheet("leak", **given).readable(explain=False)


HOLD = {"volume": "50 mL", "first": "20 bar", "last": "19.98 bar", "duration": "60 s"}


def test_gas_is_counted_at_the_temperature_that_is_stated():
    """50 mL lose 2 kPa in 60 s: 0.9869 cm3/min of gas at 0 degC (row leak-034); of gas at 20 degC
    273.15 / 293.15 of that, 0.9196, for n = pV / RT."""
    published = row("leak.csv", quantity="qL_pressure_change_sccm", V_L="1").number()
    for at, share, said in (
        ("0 degC", 1.0, "Leak rate, gas at 0.0 °C "),
        ("20 degC", 273.15 / 293.15, "Leak rate, gas at 20.0 °C "),
        ("40 degC", 273.15 / 313.15, "Leak rate, gas at 40.0 °C "),
    ):
        for given in (HOLD, {"volume": "50 mL", "rate": "1.6666666667e-3 Pa*m**3/s"}):
            text = sheet("leak", **given, first_at=at).readable(explain=False)
            assert said in text
            counted = next(r for r in text.splitlines() if "counted at 0 °C and 101325 Pa" in r)
            assert counted.endswith(f"  {published * share:.4g} cm3/min")
    assert "gas at 20.0 °C" in sheet("leak", **HOLD).readable(explain=False), "where none is given"


@pytest.mark.parametrize(
    ("given", "verdict"),
    [
        ({"limit": "2e-6 Pa*m**3/s", "reading_uncertainty": "1 Pa"}, "fail, 833 times"),
        ({"limit": "2e-3 Pa*m**3/s", "reading_uncertainty": "1 Pa"}, "pass, 0.833 times"),
        ({"limit": "2e-3 Pa*m**3/s", "reading_uncertainty": "200 Pa"}, "undecided, 0.833 times"),
        ({"last": "20.02 bar", "limit": "2e-6 Pa*m**3/s", "reading_uncertainty": "1 Pa"},
         "undecided, 0 times"),
        ({"lost": "1 bar"}, "above the limit, 1.05e+04 times the allowed rate; nothing proven"),
        ({"lost": "59 bar", "within": "1 h"}, "within the limit, 0.0203 times the allowed rate;"),
    ],
)  # fmt: skip
def test_a_rate_beside_a_limit_gets_a_verdict(given, verdict):
    """u of the rate is sqrt(2) u_p 50 mL / 60 s; as at the bench, 2 u on either side of a limit."""
    text = sheet("leak", **{**HOLD, **given}).readable(explain=False)
    assert verdict in next(r for r in text.splitlines() if r.startswith("Against the limit"))


def test_long_times_are_told_in_days_and_hours():
    text = sheet("leak", volume="50 mL", lost="1 bar", within="365d").readable(explain=False)
    assert next(r for r in text.splitlines() if "service" in r).endswith("  365 d")
    text = sheet("leak", **{**HOLD, "duration": "24 h"}).readable(explain=True)
    assert next(r for r in text.splitlines() if "Length" in r).endswith("  24 h")


def test_the_loss_at_the_limit_is_worked_from_the_limit():
    lines = {line.symbol: line for line in sheet("leak", **HOLD, lost="1 bar").lines}
    assert lines["dp_max"].figures == f"({lines['q_max'].text}) / (50.00 mL)"


# --- bottle --------------------------------------------------------------------------------------


def test_a_bottle():
    """The worked example of the physics' tests: 1249 fills from 10 L at 200 bar."""
    found = values(
        "bottle", bottle="10 L", gauge="200 bar", charge="15 bar", gas_volume="90 mL",
        dead_volume="3 mL",
    )  # fmt: skip
    assert found["k"] == pytest.approx(1249, abs=1)
    assert found["p_last"] >= found["p_change"] > 15e5
    assert found["p_end"] >= 15e5


def test_an_empty_bottle_says_so():
    found = sheet("bottle", bottle="10 L", gauge="10 bar", charge="15 bar", gas_volume="90 mL")
    by_symbol = {line.symbol: line for line in found.lines}
    assert by_symbol["k"].value == 0
    assert by_symbol["p_last"].value is None
    assert "—" in by_symbol["p_last"].text


@pytest.mark.parametrize("name", ["oil", "gas", "leak", "bottle"])
def test_every_formula_has_figures_or_says_what_it_does(name):
    given = {
        "oil": {**OIL, "bench": "30 degC"},
        "gas": {"charge": "15 bar", "to": "35 degC", "volume": "90 mL", "dead_volume": "3 mL",
                "volume_ratio": "0.7"},
        "leak": {"volume": "100 mL", "first": "15 bar", "last": "14.9 bar", "duration": "60 s"},
        "bottle": {"bottle": "10 L", "gauge": "200 bar", "charge": "15 bar",
                   "gas_volume": "90 mL"},
    }[name]  # fmt: skip
    lines = sheet(name, **given).lines
    worked = [line for line in lines if line.working]
    assert len(worked) > 3
    assert all(line.figures or "p of" in line.working for line in worked)
    assert any(line.source for line in worked)
