"""Lines about the process: charts of which a rule fired among the newest points."""

from collections.abc import Iterator, Sequence

from benchstation.domain.quality import (
    PROVISIONAL,
    Evaluation,
    Quantity,
    Scale,
    evaluate,
    evaluate_units,
)
from benchstation.quantities.formatter import local_day
from benchstation.reports.quality_words import TITLES
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.quality import QualityQuestion, place_of
from benchstation.screens.worklist.lines import Desk, WorkLine
from benchstation.store.figures import (
    By,
    Group,
    checked_instruments,
    families,
    last_checks_of,
    last_figures,
    names,
)

LOOKED_AT, NEWEST = 100, 10
"""So many points set a chart's limits; a rule that ended among the newest ten is listed."""
PAGE = "quality"
FIGURES = (Quantity.OIL, Quantity.CHARGE, Quantity.LEAK)


def fired_rules(desk: Desk) -> Sequence[WorkLine]:
    """Return the charts of families, technicians and instruments of which a rule fired lately."""
    return [*_families(desk), *_technicians(desk), *_instruments(desk)]


def _families(desk: Desk) -> Iterator[WorkLine]:
    for family in families(desk.store):
        for quantity in FIGURES:
            yield from _units(desk, quantity, Group(family), family)


def _technicians(desk: Desk) -> Iterator[WorkLine]:
    for quantity in (Quantity.OIL, Quantity.CHARGE):
        for name in names(desk.store, Group("", By.TECHNICIAN), quantity):
            group = Group("", By.TECHNICIAN, name)
            yield from _units(desk, quantity, group, desk.names.get(name, name))


def _units(desk: Desk, quantity: Quantity, group: Group, title: str) -> Iterator[WorkLine]:
    figures = last_figures(desk.store, quantity, group, LOOKED_AT)
    scale = Scale.SI if group.family else Scale.SHARE
    if scale is Scale.SHARE:
        figures = tuple(figure for figure in figures if figure.limit > 0.0)
    found = evaluate_units(figures, quantity, scale)
    last = _newest_rule(found)
    if last is not None:
        question = QualityQuestion(quantity, group.family, group.by, group.name)
        why = f"{found.runs[-1].rule.value}, to {figures[last].serial}"
        yield _line(question, title, why, local_day(figures[last].utc))


def _instruments(desk: Desk) -> Iterator[WorkLine]:
    for name, _ in checked_instruments(desk.store):
        every = last_checks_of(desk.store, name, LOOKED_AT)
        same = [c for c in every if (c.check, c.nominal) == (every[-1].check, every[-1].nominal)]
        found = evaluate([check.error for check in same], None, None)
        last = _newest_rule(found)
        if last is not None:
            question = QualityQuestion(Quantity.CHECK, name=name)
            yield _line(question, name, found.runs[-1].rule.value, local_day(same[last].utc))


def _newest_rule(found: Evaluation) -> int | None:
    """Return the place where the newest rule ended; ``None``: none lately, or too few points."""
    count = len(found.values)
    if count < PROVISIONAL or not found.runs:
        return None
    last = found.runs[-1].last
    return last if last >= count - NEWEST else None


def _line(question: QualityQuestion, title: str, why: str, day: str) -> WorkLine:
    place = place_of(question)
    kind = TITLES[Quantity(question.quantity)]
    subject = place.replace("\n", " ")
    words = f"{kind}: {why}"
    return WorkLine(subject, title, words, Tone.CAUTION, PAGE, place, "See the chart", day)
