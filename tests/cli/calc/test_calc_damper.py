"""The damper's sheet and the shipping sheet on the demonstration's specifications."""

import json
from importlib.resources import files

import pytest

from benchstation.cli.calc import compute
from benchstation.cli.calc.given import Given
from benchstation.cli.calc.unit import unit_of
from benchstation.cli.main import main
from benchstation.driver_api.errors import StationError
from benchstation.physics.assessment import assess
from benchstation.quantities.units import UnitSystem

METRIC = UnitSystem.METRIC
FOLDER = files("resources") / "demo" / "specifications"
FRONT = str(FOLDER / "mr-46-front.toml")
ALL = sorted(str(path) for path in FOLDER.iterdir() if path.name.endswith(".toml"))


def sheet(name="damper", system=METRIC, **texts):
    given = {"specification": FRONT} | {k.replace("_", "-"): v for k, v in texts.items()}
    return compute(name, given, system)


def values(name="damper", **texts):
    return {line.symbol: line.value for line in sheet(name, **texts).lines}


@pytest.mark.parametrize("path", ALL)
def test_every_demonstration_specification_has_its_sheet(path):
    found = values(specification=path)
    assert found["V_least"] < found["V_oil"] < found["V_most"]
    assert found["p_least"] < found["p_c"] < found["p_most"]
    assert all(value >= 0 for name, value in found.items() if name.startswith("margin_"))


def test_the_figures_are_those_of_the_physics():
    found = values()
    build = unit_of(Given({"specification": FRONT})).build
    figures = assess(build).figures
    assert found["p_fast_hot"] == pytest.approx(figures.bump_fast_hot_pa - build.ambient_pa)
    assert found["p_reference"] == pytest.approx(15e5, rel=1e-9)
    assert found["F_out"] == pytest.approx(15e5 * build.geometry.rod_area_m2, rel=1e-9)
    assert found["z_fp"] == figures.piston_depth_m
    assert found["F_cav"] == figures.cavitation_force_cold_n


def test_one_figure_is_the_same_wherever_it_stands():
    found = values(bench="35 degC")
    assert found["V_out"] == pytest.approx(found["V_bench"], rel=1e-12)
    assert found["p_slow_x"] == pytest.approx(found["p_t"], rel=1e-12)
    hot = values(bench="120 degC", travel="150 mm")
    assert hot["p_fast_x"] == pytest.approx(hot["p_fast_hot"], rel=1e-9)
    assert hot["p_slow_x"] == pytest.approx(hot["p_slow_hot"], rel=1e-9)


def test_oil_charge_and_depth_take_the_place_of_the_specified():
    plain, more = values(), values(oil="263 mL", charge="16 bar")
    assert more["V_gas"] == pytest.approx(plain["V_gas"] - 1e-6)
    assert more["p_reference"] == pytest.approx(16e5, rel=1e-9)
    by_depth = values(depth=f"{more['z_fp'] * 1e3!r} mm")
    assert by_depth["V_oil"] == pytest.approx(263e-6, rel=1e-9)


def test_the_sensitivity_is_what_a_millilitre_does():
    plain, more = values(), values(oil="262.1 mL")
    change = (more["p_fast_hot"] - plain["p_fast_hot"]) / 0.1e-6
    assert plain["d_bump_fast_hot_pa_per_oil"] == pytest.approx(change, rel=5e-3)


def test_the_ends_of_the_windows_bind():
    """At an end the sheet still holds, just beyond it a limit does not."""
    plain = values()
    for option, end, scale, unit, outward in (
        ("oil", plain["V_least"], 1e6, "mL", -1),
        ("oil", plain["V_most"], 1e6, "mL", 1),
        ("charge", plain["p_most"], 1e-5, "bar", 1),
    ):
        inside, outside = (
            values(**{option: f"{end * scale * (1 + k * outward * 1e-6)!r} {unit}"})
            for k in (-1, 1)
        )
        assert all(v >= 0 for name, v in inside.items() if name.startswith("margin_"))
        assert any(v < 0 for name, v in outside.items() if name.startswith("margin_"))


def test_text_names_the_limits_and_whether_it_is_inside():
    text = sheet().readable(explain=False)
    assert "limited by: gas pressure at fast full bump, hot" in text
    assert "262.0 mL, inside" in text
    outside = sheet(oil="292 mL").readable(explain=False)
    assert "292.0 mL, OUTSIDE" in outside
    assert "does NOT hold" in outside


def test_a_fill_that_no_charge_mends_is_told():
    text = sheet(oil="240 mL").readable(explain=False)
    assert "No charge mends this fill: it breaks the floating piston's clearance" in text


def test_the_working_has_figures_and_sources():
    text = sheet(bench="35 degC", travel="75 mm").readable(explain=True)
    assert "F_out = p_reference A_rod\n          = (15.00 bar) (153.9 mm²)" in text
    assert "Dixon, The Shock Absorber Handbook" in text
    assert "Span et al. (2000)" in text
    assert "ASTM D1250-04" in text


def test_inch_pound_shows_its_own_units_and_the_same_values():
    metric, other = sheet(), sheet(system=UnitSystem.INCH_POUND)
    assert [a.value for a in metric.lines] == [b.value for b in other.lines]
    text = other.readable(explain=False)
    assert "lbf/in" in text
    assert "0.1 fl oz more oil" in text
    assert " bar" not in text.replace("bar,", "")


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        ({"oil": "335 mL"}, "with 335 mL at 15.00 bar gauge"),
        ({"oil": "335 mL"}, "Allowed at this charge is 24"),
        ({"oil": "380 mL"}, "the oil volume comes out as 380 mL"),
        ({"charge": "45 bar"}, "no fill keeps every limit at this charge"),
        ({"travel": "160 mm"}, "--travel: '160 mm' is out of range. Allowed is 0 to 150.00 mm"),
        ({"bench": "200 degC"}, "--bench: '200 degC' is out of range"),
        ({"specification": "nowhere.toml"}, "nowhere.toml: the file cannot be used"),
        ({"specification": None}, "--specification: is missing"),
    ],
)
def test_bad_input_is_refused_in_one_line(texts, words):
    with pytest.raises(StationError) as refused:
        sheet(**texts)
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)


def test_the_command_prints_json_in_si(capsys):
    assert main(["calc", "damper", "--specification", FRONT, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["V_oil"]["value_si"] == pytest.approx(262e-6)
    assert found["V_most"]["text"].startswith("29")


def test_an_unknown_option_is_one_line_and_exit_2(capsys):
    with pytest.raises(SystemExit) as left:
        main(["calc", "damper", "--colour", "red"])
    assert left.value.code == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert "--colour" in err


def test_shipping_figures_stand_beside_what_is_asked():
    text = sheet("ship", test_pressure="120 bar", burst_pressure="70 bar").readable(explain=True)
    assert "at most 13.79 bar" in text
    assert "173.306 (f)(2): accumulators up to 200 psi" in text
    assert "173.306 (f)(4): shock absorbers" in text
    assert "ruled out; charge at 70 °F, gauge: 15.10 bar; at most 13.79 bar" in text
    assert "special provision 283" in text
    assert "fire test" in text
    assert "UN 3164" in text
    assert "the shipper decides" in text
    found = values("ship")
    assert found["p_20C"] == pytest.approx(15e5, rel=1e-9)
    assert found["p_70F"] > found["p_20C"]
    assert found["cfr_f4_3"] == pytest.approx(found["V_gas"] * found["p_20C"], rel=1e-9)


def test_a_unit_without_charge_has_its_shipping_sheet():
    said = {line.symbol: line.text for line in sheet("ship", charge="0 bar").lines}
    assert said["low_pressure"].startswith("not ruled out")
    assert said["cfr_f4"] == "cannot be told, not given: burst pressure"
