"""What the bench says has its figures in the display's units; what is on record is SI."""

import ast
import re
from pathlib import Path

import pytest

import benchstation
from benchstation.bench import locks
from benchstation.bench.locks import require_no_pressure
from benchstation.domain.events import MassCaptured
from benchstation.domain.specification import StepKind
from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import UnitSystem
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station

METRIC_FIGURE = re.compile(r"\d (bar|g|mm|N|N m|kPa|mL)\b")


@pytest.fixture
def pounds(bench):
    bench.session.show_in(UnitSystem.INCH_POUND)
    return bench


def refused(bench, action: str, **fields) -> str:
    head = bench.store.head()
    with pytest.raises(StationError) as told:
        bench.session.act(action, fields)
    assert bench.store.head() == head
    said = str(told.value)
    assert not METRIC_FIGURE.search(said), said
    return said


def test_setting_aside_and_the_release_under_pressure(pounds):
    pounds.work_to(StepKind.RELEASE)
    pounds.sign_in()
    assert re.search(r"the gauge shows [\d.]+ psi\.", refused(pounds, "set_aside", reason="parts"))
    confirmed = {f"confirm{n}": "yes" for n in range(1, 6)}
    said = refused(pounds, "sign", **confirmed)
    assert re.search(r"shows [\d.]+ psi, outside ±[\d.]+ psi", said)
    pounds.session.show_in(UnitSystem.METRIC)
    with pytest.raises(StationError, match=r"the gauge shows [\d.]+ bar\."):
        pounds.session.act("set_aside", {"reason": "parts"})


def test_pressure_where_the_gas_must_be_out(pounds, monkeypatch):
    session = pounds.session
    monkeypatch.setattr(locks, "unsafe_pressure_pa", lambda _: 6.894757e5)
    with pytest.raises(StationError, match=r"the gauge shows 100\.0 psi, and the gas must"):
        require_no_pressure(session, "Strip")


def test_a_measured_value_and_a_torque_outside(pounds):
    pounds.work_to(StepKind.MEASURE)
    pounds.sign_in()
    said = refused(pounds, "sign", value1="300 mm", units="inch-pound")
    assert re.search(r"is 11\.8\d* in, allowed [\d.]+ to [\d.]+ in", said)
    pounds.work_to(StepKind.TORQUE)
    pounds.sign_in()
    said = refused(pounds, "sign", torque1="20 N m", torque1_tool="TW-07", units="inch-pound")
    assert re.search(r"is 177\.?\d* lbf in, allowed [\d.]+ to [\d.]+ lbf in", said)


def test_what_was_weighed_is_said_in_ounces_and_kept_in_kilograms(pounds):
    pounds.work_to(StepKind.BLEED)
    said = [pounds.session.message.text]
    (captured,) = (e.event for e in pounds.store.entries(kind=MassCaptured.kind))
    assert 0.1 < captured.shown_kg < 1.0
    pounds.sign_in()
    said.append(pounds.session.act("nothing_bled", {}))
    assert re.search(r"Net oil \d+\.\d+ oz", said[-1])
    assert not METRIC_FIGURE.search(" ".join(said))


def test_half_a_pour_that_is_not_captured(pounds):
    pounds.work_to(StepKind.WEIGH)
    pounds.sign_in()
    pounds.world.model.put_on_pan("body")
    pounds.run(3)
    pounds.session.act("tare", {})
    pounds.until(lambda: pounds.session.work.weighing.tared)
    pounds.pour(0.06)
    said = pounds.session.act("tare", {})
    assert re.search(r"about 2\.\d oz are not captured", said)


def test_the_station_s_display_is_the_bench_s(bench):
    station = Station(bench.live, Records(bench.store))
    station.display = UnitSystem.INCH_POUND
    assert bench.session.display is UnitSystem.INCH_POUND
    assert bench.session.words.pressure(6.894757e5) == "100.0 psi"


def is_scaled(value: ast.expr) -> bool:
    """Say whether a figure is scaled as it is written, also by one that formats it."""
    if isinstance(value, ast.Call):
        return any(is_scaled(given) for given in value.args)
    return isinstance(value, ast.BinOp)


def unit_in(node: ast.JoinedStr) -> bool:
    """Say whether a text scales a figure in place, such as ``{fixed(pa / 1e5, 2)} bar``."""
    for before, after in zip(node.values, node.values[1:], strict=False):
        scaled = isinstance(before, ast.FormattedValue) and is_scaled(before.value)
        words = after.value if isinstance(after, ast.Constant) else ""
        if scaled and re.match(r" (bar|g|kg|mm|mL|N|kPa|psi|oz)\b", str(words)):
            return True
    return False


ON_RECORD = {
    "disc_stack.py": 1,  # discs are mm in every display, also in a specification's own text
    "shipping.py": 1,  # the product of pressure and volume is in bar L, as the clause has it
    "changing.py": 1,  # a set-up file is held against the bench in the units that files have
}


def test_no_other_text_has_its_unit_built_in():
    root = Path(benchstation.__file__).parent
    found: dict[str, int] = {}
    for folder in ("domain", "bench", "screens"):
        for path in sorted((root / folder).rglob("*.py")):
            tree = ast.parse(path.read_text("utf-8"))
            count = sum(unit_in(n) for n in ast.walk(tree) if isinstance(n, ast.JoinedStr))
            if count:
                found[path.name] = found.get(path.name, 0) + count
    assert found == ON_RECORD
