"""The page Calibrations: in force, history, drift, and a certificate before it is signed."""

import numpy as np
import pytest

from benchstation.demo import shop as demo
from benchstation.domain.events import CalibrationResult
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.instruments.calibration import Calibrations
from benchstation.screens.instruments.calibration_words import Figures, result_terms
from benchstation.screens.model.elements import Tone
from benchstation.store.errors import NotOnRecordError
from tests.stepped_bench import make_bench

METRIC = QuantityFormatter(UnitSystem.METRIC)
SCALE = {
    "instrument": "scale-1",
    "certificate": "C-26",
    "laboratory": "Kalibrierlabor Süd",
    "on": "2026-02-20",
    "until": "2027-02-20",
    "gain": "1.0",
    "u": "0.02 g",
    "high": "2000 g",
}
GAUGE = {**SCALE, "instrument": "gauge-1", "u": "30 mbar", "high": "40 bar"}
SIGNED = {"reason": "yearly", "signature": demo.PIN}


@pytest.fixture(scope="module")
def filed(tmp_path_factory):
    """Return a bench on which one unit was filed; a lead is signed in."""
    made = make_bench(tmp_path_factory.mktemp("bench"))
    made.sign_in()
    made.work_to(None)
    made.sign_in(demo.LEAD)
    yield made
    made.store.close()


@pytest.fixture
def led(bench):
    bench.sign_in(demo.LEAD)
    return bench


def page(bench):
    return Calibrations(bench.store, bench.session)


def opened(bench, key="scale-1"):
    return page(bench).open(key, bench.session.person, METRIC)


def worked(bench, **fields):
    return page(bench).work_out(fields, bench.session.person, METRIC)


def terms(detail):
    return {term.label: f"{term.value}; {term.source}" for g in detail.groups for term in g.terms}


def test_what_is_fitted_is_listed_with_how_its_calibration_stands(led):
    scale, gauge = page(led).rows(METRIC)
    assert (scale.key, scale.state) == ("scale-1", "to 2026-08-15")
    assert scale.tone is Tone.NORMAL
    assert gauge.below == ("gauge, gauge-1", "C-7740")


def test_one_that_falls_due_soon_says_so(led):
    soon = {**SCALE, "on": "2025-03-20", "until": "2026-03-20", **SIGNED}
    led.session.act("calibrate", {**demo.SIGNED, **soon})
    row = page(led).rows(METRIC)[0]
    assert (row.tone, row.note) == (Tone.CAUTION, "due soon")


def test_one_calibration_has_no_history_and_no_curve(led):
    detail = opened(led)
    assert detail.curves == ()
    assert [a.id for a in detail.actions] == ["calibrate", "begin_study", "units_of"]
    assert [a.id for a in opened(led, "gauge-1").actions] == ["calibrate", "units_of"]
    assert "none yet" in terms(detail)["Studies"]


def test_a_technician_sees_why_it_is_not_for_him(bench):
    bench.sign_in()
    sign = next(a for a in opened(bench).actions if a.id == "calibrate")
    assert not sign.enabled
    assert "bench lead" in sign.why_not


def test_three_calibrations_draw_the_drift_without_the_adjustments(led):
    first = led.session.scale.registered
    for year, gain, found in (("2025-08", "1.0", "1.0001"), ("2026-02", "1.0", "1.0002")):
        led.session.act(
            "calibrate",
            {
                **demo.SIGNED,
                **SCALE,
                "certificate": f"C-{year}",
                "on": f"{year}-20",
                "gain": gain,
                "adjusted": "yes",
                "found_gain": found,
                **SIGNED,
            },
        )
    detail = opened(led)
    (curve,) = detail.curves
    moved = next(values for name, _, values in curve.lines if name == "moved")
    assert curve.x[0] == 0.0
    # At 2 kg, in g; what the laboratory took away again is not counted back.
    came = 2000 * (1.0001 - first.gain) - 1e3 * first.offset
    assert np.diff(moved) == pytest.approx([came, 0.4], abs=1e-6)
    said = terms(detail)
    assert "proved" in said["2026-02-20"]
    assert "adjusted" in said["2026-02-20"]
    assert "from 3 calibrations" in said["Drift a year"]


def test_one_that_is_typed_late_stands_by_its_day(led):
    for on in ("2026-02-20", "2024-02-20"):
        typed = {**SCALE, "certificate": f"C-{on}", "on": on, "until": "2027-02-20", **SIGNED}
        led.session.act("calibrate", {**demo.SIGNED, **typed})
    detail = opened(led)
    (curve,) = detail.curves
    assert list(curve.x) == sorted(curve.x)
    assert curve.x_label == "days since 2024-02-20"
    history = next(g for g in detail.groups if g.title.startswith("History"))
    days = [t.label for t in history.terms if t.label.startswith("20")]
    assert days == sorted(days, reverse=True)


def test_a_certificate_is_worked_out_and_nothing_written(filed):
    before = len(filed.store.entries())
    detail = worked(filed, **GAUGE)
    assert len(filed.store.entries()) == before
    said = terms(detail)
    assert said["Filed units that rest on it"].startswith("1;")
    assert said["Verdicts that would be worse"].startswith("0;")
    assert "C-26" in said["Certificate"]
    assert detail.fields["gain"] == "1.0"
    assert {"calibrate", "edit_calibration"} <= set(detail.forms)
    assert not any(tone is Tone.DANGER for _, tone in detail.lines)
    typed = {f.id: f.value for f in detail.forms["edit_calibration"].fields}
    assert typed["u"] == "30 mbar"


def test_an_error_as_found_names_the_units_whose_verdict_would_be_worse(filed):
    found = {"on": "2026-03-03", "adjusted": "yes", "found_gain": "0.95"}
    detail = worked(filed, **{**GAUGE, **found})
    serial = next(row.serial for row in [filed.session.rebuild.opened])
    said = terms(detail)
    assert "pass → fail" in said[serial]
    assert "off target on record" in said[serial]
    assert any("One filed result would be judged less well" in text for text, _ in detail.lines)


def test_an_adjustment_that_nobody_knows_of_leaves_the_units_unknown(filed):
    said = terms(worked(filed, **GAUGE, adjusted="yes"))
    assert said["Their verdicts"].startswith("not known")


def test_an_expired_one_is_told_before_it_is_signed(led):
    detail = worked(led, **{**SCALE, "on": "2025-02-20", "until": "2026-02-20"})
    text, tone = detail.lines[0]
    assert "expired on 2026-02-20, 11 days ago" in text
    assert tone is Tone.DANGER
    names = [f.id for f in detail.forms["calibrate"].fields]
    assert names == ["take_expired", "reason", "signature"]
    usual = [f.id for f in worked(led, **SCALE).forms["calibrate"].fields]
    assert usual == ["reason", "signature"]


def test_one_older_than_that_in_force_is_told(led):
    lines = worked(led, **{**SCALE, "on": "2024-02-20", "until": "2026-12-01"}).lines
    assert any("in force is newer" in text for text, _ in lines)


def test_what_cannot_be_is_refused_by_its_field(led):
    with pytest.raises(StationError) as refused:
        worked(led, **{**SCALE, "until": "soon"})
    assert refused.value.field == "until"
    with pytest.raises(NotOnRecordError):
        worked(led, **{**SCALE, "instrument": "scale-9"})


def test_a_run_shows_what_it_waits_for_and_what_it_kept(led):
    led.session.act("begin_study", {"instrument": "scale-1", "nominal": "200 g", "times": "5"})
    led.world.model.put_on_pan("nothing")
    led.run(4)
    detail = opened(led)
    assert [a.id for a in detail.actions] == ["zero", "end_study"]
    assert detail.lines == (("Put the weight on; hands off. 0 of 5 are kept.", Tone.MANDATORY),)
    led.world.model.put_on_pan("check weight")
    led.run(4)
    detail = opened(led)
    assert "Empty the pan; hands off. 1 of 5 are kept." in detail.lines[-1][0]
    assert terms(detail)["1"].startswith("+200.0")
    for _ in range(4):
        for load in ("nothing", "check weight"):
            led.world.model.put_on_pan(load)
            led.run(4)
    said = [t for g in opened(led).groups for t in g.terms if "degrees of freedom" in t.value]
    assert len(said) == 1
    assert "on and off 5 times" in said[0].source


@pytest.mark.parametrize(
    ("role", "value", "difference", "system", "shown"),
    [
        ("scale", 2.0, 3.1e-5, UnitSystem.METRIC, ("2000.0 g", "+0.031 g", "0.031 g")),
        ("gauge", 4e6, -3000.0, UnitSystem.METRIC, ("40.00 bar", "−0.030 bar", "0.030 bar")),
        ("barometer", 1e5, 52.0, UnitSystem.METRIC, ("1000 hPa", "+0.52 hPa", "0.52 hPa")),
        (
            "barometer",
            1e5,
            52.0,
            UnitSystem.INCH_POUND,
            ("29.53 inHg", "+0.015 inHg", "0.015 inHg"),
        ),
        ("thermometer", 293.15, 0.2, UnitSystem.METRIC, ("20.0 °C", "+0.20 K", "0.20 K")),
        ("hygrometer", 0.45, 0.02, UnitSystem.METRIC, ("45 %", "+2.0 %", "2.0 %")),
    ],
)
def test_each_role_is_shown_in_its_own_unit(role, value, difference, system, shown):
    figures = Figures(InstrumentRole(role), QuantityFormatter(system))
    u = figures.u(abs(difference))
    assert (figures.value(value), figures.off(difference), u) == shown


def test_a_thermometers_offset_is_shown_on_the_scale_of_its_gain():
    words = Figures(InstrumentRole("thermometer"), METRIC)
    result = CalibrationResult(1.01, 0.1 - 273.15 * 0.01, 0.1, 0.1)
    assert result_terms(result, words)[0].value == "1.01 × reading, +0.10 K"


def test_ounces_are_read_and_shown(led):
    words = QuantityFormatter(UnitSystem.INCH_POUND)
    detail = page(led).work_out({**SCALE, "high": "70"}, led.session.person, words)
    said = {t.label: t.value for g in detail.groups for t in g.terms}
    assert said["Range"].endswith("70.000 oz")
