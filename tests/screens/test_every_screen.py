"""Every page and every step in inch-pound says no metric unit; green is a judged pass alone."""

import re

import pytest

from benchstation.demo import shop as demo
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.page import bench_view
from benchstation.screens.model.elements import Tone
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from tests.screens.every_screen import OTHERS, ROWS, every_page, texts, toned
from tests.stepped_bench import make_bench

INCH_POUND = QuantityFormatter(UnitSystem.INCH_POUND)
FAMILIES = ("mr-46-rear",)
"""It has every kind of step but the second reading after a night."""
METRIC_UNIT = re.compile(
    r"(?<![\w/])\d[\d .,]*\s?(?:[kMm]?bar|[khM]?Pa|mL|L|[kmµ]?g|[cmµ]?m|N|N m|°C|K)\b(?![\w/])"
    r"|(?<!\w)(?:m?bar|mL|[kh]Pa|mm|N m|°C|mg)(?!\w)"
)
AS_WRITTEN = (
    ".source",
    ".raw_lines",
    ".key",
    ".sheet.fields.value",
    ".sheet.parts.fields.value",
    ".fields.value",
)
"""What an author or a device wrote stays as it was written; beside it stands what is shown."""
EXAMPLES = re.compile(r"\.adds\b")
"""What a new entry of a specification's text begins with."""
BY_CONVENTION = (
    "weights of 8000 kg/m³",
    "g/mL",
    "from the piston, mm or with a unit",
    "at 15 °C; for the windows",
)
"""Fixed by a standard, or of the trade: densities of oil, and discs, which are mm everywhere."""
DISCS = re.compile(r"\d+ of \d+ × [\d.]+ mm")
GREEN = re.compile(r"pass|released|target|^Pour|^Charge|^Net mass|^Pressure")
"""A judged pass, or what QA released; and the window of a trace, which is where to end."""


def moments(bench, family):
    """Return every moment of a unit's route, and the forms that can be asked for there."""
    last = ""
    for _ in bench.technician(serial=family, family=family).work():
        view = bench_view(bench.session, INCH_POUND)
        state = f"{view.task.step_id} {[a.id for a in view.task.actions]} {view.task.lines[:1]}"
        if state != last:
            last = state
            yield f"{family} {view.task.step_id}", view
        bench.run(0.1)
    yield f"{family} filed", bench_view(bench.session, INCH_POUND)


@pytest.fixture(scope="module")
def screens(tmp_path_factory):
    """Every page and step of a bench that shows inch-pound, with the names that people gave."""
    bench = make_bench(tmp_path_factory.mktemp("inch-pound"))
    bench.session.show_in(UnitSystem.INCH_POUND)
    seen = [one for family in FAMILIES for one in moments(bench, family)]
    bench.sign_in(demo.LEAD)
    station = Station(bench.live, Records(bench.store))
    station.display = UnitSystem.INCH_POUND
    seen += every_page(station)
    station.close()
    shop = bench.session.shop
    given = [f.registered.title for f in bench.session.instruments.fitted]
    given += [lot.source for lot in shop.lots.values()]
    given += [material.name for material in shop.stock.received.values()]
    given += [s.family for s in shop.current_specifications()]
    given += [s.title for s in shop.current_specifications()]
    given += [part.name for s in shop.current_specifications() for part in parts_of(s)]
    bench.store.close()
    return seen, tuple(sorted(set(given), key=len, reverse=True))


def parts_of(specification):
    return (a.input for s in specification.steps for a in s.asked if a.input.noun == "lot")


def stripped(text, given):
    for name in given:
        text = text.replace(name, "")
    for words in BY_CONVENTION:
        text = text.replace(words, "")
    return DISCS.sub("", text)


def test_inch_pound_reaches_every_page_and_step(screens):
    seen, given = screens
    found = {
        f"{name} {path}: {text[:90]}"
        for name, value in seen
        for path, text in texts(value)
        if not path.endswith(AS_WRITTEN) and not EXAMPLES.search(path)
        if METRIC_UNIT.search(stripped(text, given))
    }
    assert "\n".join(sorted(found)) == ""


def test_green_is_a_judged_pass_alone(screens):
    seen, _ = screens
    found = {
        f"{name} {path}: {said}"
        for name, value in seen
        for path, tone, said in toned(value)
        if tone is Tone.GOOD and not GREEN.search(said) and path != ".moments.big.tone"
    }
    assert "\n".join(sorted(found)) == ""
    held = [moment for _, view in seen for moment in getattr(view, "moments", ())]
    assert {m.lines[0][0] for m in held if m.big and m.big.tone is Tone.GOOD} == {"pass"}


def test_the_units_are_seen_where_there_are_some():
    for text in ("12 mm", "3.4 bar gauge", "°C", "0.30 g", "8.1 N m", "5 K apart", "1013 hPa"):
        assert METRIC_UNIT.search(text), text
    for text in ("K-87", "0.47 in", "12 psi", "in 30 s", "4 of 5", "9 discs", "MR-46", "G 1"):
        assert not METRIC_UNIT.search(text), text


def test_every_page_of_the_station_is_walked():
    shows = re.compile("find_|open_|view$|instruments$|alarms$")
    named = {name for name in vars(Station) if shows.match(name)}
    assert named <= OTHERS | set(ROWS) | set(ROWS.values())
