"""Texts as they are shown, put together from their parts: one language and one number format.

The sources are read elsewhere; here a unit is worked from its opening to its record, on each page
that a unit passes, in both systems of units.
"""

import dataclasses
import itertools
from collections.abc import Iterator

import numpy as np
import pytest
from pypdf import PdfReader

from benchstation.demo import shop as demo
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.page import bench_view
from benchstation.screens.day.page import day_rows, open_day_line
from benchstation.screens.instruments.calibration import Calibrations
from benchstation.screens.instruments.page import instrument_views
from benchstation.screens.materials.page import Materials
from benchstation.screens.records.page import Records
from benchstation.screens.specifications.page import Specifications
from tests.spoken_text import NEVER, Never, Spoken
from tests.stepped_bench import STEP_S, make_bench

NAMES = ("id", "key")
WRITTEN_BY_OTHERS = {
    "SheetField": ("value", "usual"),
    "SpecificationDetail": ("source",),
    "InstrumentView": ("raw_lines",),
}
"""What the author of a specification wrote, and what came over a line."""
EACH = 40
"""Every so many moments of the work the page is built."""
NOT_SO = (
    Never(r"\d\.\d{5,}(?! × reading)", "no more digits than U allows"),
    Never(r"(?<![\w.])\d+(\.\d+)?[eE][-+]?\d\d?\b", "powers as 10⁻⁶"),
    Never(r"(?<![\w.,/-])-\d", "a real minus sign"),
    Never(r"\b\d{4}-\d\d-\d\dT\d\d", "a local time with its zone"),
    Never(r"\bnan\b|\binf\b|\bNone\b(?! falls due)", "a dash, or words"),
)


def texts_in(value: object) -> Iterator[str]:
    """Return every text of a view that people read: of several words, and no name of its own."""
    if isinstance(value, str):
        if " " in value:
            yield value
    elif isinstance(value, np.ndarray):
        return
    elif dataclasses.is_dataclass(value):
        for one in dataclasses.fields(value):
            if one.name not in (*NAMES, *WRITTEN_BY_OTHERS.get(type(value).__name__, ())):
                yield from texts_in(getattr(value, one.name))
    elif isinstance(value, dict):
        yield from texts_in(tuple(value.values()))
    elif isinstance(value, tuple | list | frozenset):
        for inner in value:
            yield from texts_in(inner)


@pytest.fixture(scope="module")
def shown(tmp_path_factory) -> list[Spoken]:
    """Return each text that a unit's bench, record, papers and the pages about it show."""
    folder = tmp_path_factory.mktemp("shown")
    bench = make_bench(folder)
    session, found = bench.session, set()

    def note(place: str, view: object) -> None:
        found.update(Spoken(place, text) for text in texts_in(view))

    systems = itertools.cycle(UnitSystem)
    for count, _ in enumerate(bench.technician().work()):
        bench.run(STEP_S)
        if count % EACH == 0:
            note("bench", bench_view(session, QuantityFormatter(next(systems))))
    unit, lead = session.rebuild.unit_id, session.shop.people[demo.LEAD]
    for system in UnitSystem:
        words = QuantityFormatter(system)
        session.show_in(system)
        view = bench_view(session, words)
        note("bench", view)
        records = Records(bench.store)
        note("records", (records.find(""), records.open(unit, words)))
        note("day", [open_day_line(session, row.key) for row in day_rows(session)])
        note("instruments", instrument_views(session, view.strip))
        air, today = session.air, bench.clock.utc().date()
        materials = Materials(bench.store, session.shop, air, lambda today=today: today)
        for pages in (materials, Calibrations(bench.store, session)):
            rows = pages.rows(words)
            note("lists", (rows, [pages.open(row.key, lead, words) for row in rows]))
        specifications = Specifications(bench.store)
        for row in specifications.rows():
            note("specifications", (row, specifications.open(row.key, 0.5, "cold", words)))
        for path in records.export(unit, folder, system):
            if path.suffix == ".pdf":
                text = " ".join(page.extract_text() for page in PdfReader(path).pages)
                found.add(Spoken("paper", " ".join(text.split())))
    bench.store.close()
    return sorted(found, key=lambda spoken: (spoken.place, spoken.text))


@pytest.mark.parametrize("never", [*NEVER, *NOT_SO], ids=lambda never: never.pattern)
def test_nothing_that_is_shown_says_it(shown, never):
    # What is meant for some sources only is held against them there.
    found = [] if never.only_in else [spoken for spoken in shown if never.found_in(spoken)]
    assert found == [], f"say: {never.say}"


def test_every_page_says_something(shown):
    texts = dict.fromkeys(("bench", "records", "day", "instruments", "lists", "paper"), 0)
    for spoken in shown:
        texts[spoken.place] = texts.get(spoken.place, 0) + 1
    assert min(texts.values()) >= 1
    assert texts["bench"] > 200
    assert texts["records"] > 40
