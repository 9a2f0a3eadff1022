"""The page Quality: control charts, what they say, and what another limit would do."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from benchstation.domain.disposition import STOPPED
from benchstation.domain.quality import Figure, Quantity, Rejudged, counted, next_units, rejudge
from benchstation.domain.record import stamp
from benchstation.driver_api.errors import StationError
from benchstation.metrology.conformity import Decision
from benchstation.quantities.formatter import file_stamp, local_day, local_time
from benchstation.quantities.notation import percent, significant
from benchstation.quantities.units import UnitSystem, display_unit, parse
from benchstation.reports.quality_csv import write_checks_csv, write_units_csv
from benchstation.reports.quality_paper import write_quality_paper
from benchstation.reports.quality_words import DIMENSIONS, Axis, Line, why_no_chart
from benchstation.screens.model.elements import TermGroup, TermView, Tone
from benchstation.screens.model.lists import ListRow
from benchstation.screens.model.quality import (
    ChartPoint,
    Choices,
    ControlChartView,
    OtherLimitView,
    QualityQuestion,
    QualityView,
)
from benchstation.screens.quality.study import Study, answered, choices_of, runs_in_words, study_of
from benchstation.screens.written import writing
from benchstation.store.chain_store import ChainStore
from benchstation.store.figures import families

NO_UNITS = (
    "No filed unit has this figure yet.\n\nA chart is drawn from three units on; its limits are "
    "provisional below twenty. Each point opens the record it stands for."
)
NO_CHECKS = (
    "No check of an instrument is on record yet.\n\nEach check on the page Instruments is a point "
    "here; three make a chart."
)
NOTHING_CHANGES = (
    "Judged from the stored values and their uncertainty by the rule that the bench uses; no unit "
    "is released or held by it."
)
_TONES = {Decision.PASS: Tone.QUIET, Decision.UNDECIDED: Tone.CAUTION, Decision.FAIL: Tone.DANGER}


@dataclass(frozen=True, slots=True)
class Quality:
    """Answers the page. Every method may take a while and is called in one thread."""

    store: ChainStore
    utc: Callable[[], datetime]

    def view(self, question: QualityQuestion, system: UnitSystem) -> QualityView:
        """Return the chart of a question with the names that there are to choose from."""
        people = {key: person.name for key, person in self.store.people().items()}
        chosen = choices_of(self.store, question, people)
        question = answered(question, chosen)
        study = study_of(self.store, question, system, self.utc(), people)
        listed = () if study.quantity is Quantity.CHECK else families(self.store)
        return view_of(study, chosen, listed, system)

    def other_limit(
        self, question: QualityQuestion, typed: str, system: UnitSystem
    ) -> OtherLimitView:
        """Return what another limit would make of the units of one family's chart."""
        return other_limit_of(self._study(question, system), typed, system)

    def write(
        self, question: QualityQuestion, typed: str, folder: Path, system: UnitSystem
    ) -> Sequence[Path]:
        """Write the chart as PDF and CSV; a typed limit adds its verdicts to both."""
        study = self._study(question, system)
        if not study.found.values:
            raise StationError(
                "there is nothing to write: no values stand in this chart.",
                where="Quality",
                advice="Choose another family or name.",
            )
        limit = _limit(study, typed, system) if typed.strip() else None
        others = () if limit is None else rejudge(study.figures, study.quantity, limit)
        now = self.utc()
        stem = folder / f"quality_{study.quantity}_{file_stamp(now)}"
        head = self.store.head()
        standing = (
            f"{self.store.bench}, entry {head[0]}, {head[1][:16]}...; written {local_time(now)}"
        )
        other: tuple[tuple[str, tuple[Line, ...]], ...] = ()
        if limit is not None:
            view = other_limit_of(study, typed, system)
            terms = (*view.groups[0].terms,)
            lines = tuple((term.label, term.value, term.source) for term in terms)
            other = ((view.heading, lines),)
        with writing(folder, "chart", ""):
            paper = write_quality_paper(
                stem.with_suffix(".pdf"),
                study.title,
                f"{study.whose}; {study.span}",
                study.found,
                study.axis,
                (("Rules that fired", runs_in_words(study)), *study.groups, *other),
                standing,
                now,
            )
            table = stem.with_suffix(".csv")
            if study.quantity is Quantity.CHECK:
                write_checks_csv(table, _check_rows(study))
            else:
                write_units_csv(table, study.quantity, study.figures, study.found, others)
        return paper, table

    def _study(self, question: QualityQuestion, system: UnitSystem) -> Study:
        people = {key: person.name for key, person in self.store.people().items()}
        question = answered(question, choices_of(self.store, question, people))
        return study_of(self.store, question, system, self.utc(), people)


def view_of(
    study: Study, chosen: Choices, listed: Sequence[str], system: UnitSystem
) -> QualityView:
    """Return a study as the page shows it, with the names and families to choose from."""
    is_check = study.quantity is Quantity.CHECK
    individuals, ranges = _charts(study)
    nothing = ""
    if individuals is None:
        usual = NO_CHECKS if is_check else NO_UNITS
        nothing = f"No chart: {why_no_chart(study.found)}." if study.found.values else usual
    can_try = not is_check and bool(study.question.family) and bool(study.figures)
    return QualityView(
        study.question,
        (("", "All families"), *((family, family) for family in listed)),
        chosen,
        study.span,
        individuals,
        ranges,
        _points(study),
        tuple(
            TermGroup(title, tuple(TermView(*line) for line in lines))
            for title, lines in study.groups
        ),
        _rows(study),
        nothing,
        f"now {study.axis.text(study.found.upper or 0.0)}" if can_try else "",
    )


def other_limit_of(study: Study, typed: str, system: UnitSystem) -> OtherLimitView:
    """Return what a typed limit would make of a study's units; those that change in a row each."""
    limit = _limit(study, typed, system)
    found = rejudge(study.figures, study.quantity, limit)
    changed = sorted(
        (one for one in found if one.changes),
        key=lambda one: (one.decision is not Decision.FAIL, one.figure.utc),
    )
    counts = counted(found)
    before = [figure.decision for figure in study.figures]
    terms = tuple(
        TermView(
            f"Would {word}",
            f"{counts[decision]} of {len(found)}",
            f"now {before.count(decision.value)}",
        )
        for decision, word in (
            (Decision.PASS, "pass"),
            (Decision.UNDECIDED, "be undecided"),
            (Decision.FAIL, "fail"),
        )
    )
    ahead = next_units(study.figures, study.quantity, limit)
    if ahead is not None:
        terms += (
            TermView(
                "Units to come, passed though outside",
                f"{significant(100.0 * ahead.passed_outside, 2)} %",
                "of all, if the process stays as it is (JCGM 106, 9.5)",
            ),
            TermView(
                "Units to come, held back though within",
                f"{significant(100.0 * ahead.held_back_inside, 2)} %",
                "of all: the price of the uncertainty of measurement",
            ),
        )
    unchanged = TermView("Nothing on record changes", "", NOTHING_CHANGES)
    shown = study.axis.fine_enough(limit).text(limit)
    words = f"at most {shown}" if study.quantity is Quantity.LEAK else f"± {shown}"
    return OtherLimitView(
        f"With {words}: {len(changed)} of {len(found)} would be judged otherwise",
        (TermGroup("Another limit", (unchanged, *terms)),),
        tuple(_other_row(study, one) for one in changed),
    )


def _limit(study: Study, typed: str, system: UnitSystem) -> float:
    if study.quantity is Quantity.CHECK or not study.question.family:
        raise StationError(
            "another limit is tried for one family's oil, charge or leak.",
            where="Quality",
            advice="Choose the family first.",
        )
    dimension = DIMENSIONS[study.quantity]
    limit = parse(typed, dimension, default_unit=display_unit(dimension, system))
    if not limit > 0.0:
        raise StationError(
            "a limit must be above zero.",
            where="Quality",
            advice="Type how far a unit may be off, such as half of today's tolerance.",
        )
    return limit


def _check_rows(study: Study) -> list[list[object]]:
    return [
        [
            place + 1,
            stamp(one.utc),
            study.question.name,
            one.check,
            one.nominal,
            one.error,
            one.tolerance,
            "yes" if one.passed else "no",
        ]
        for place, one in enumerate(study.checks)
    ]


def _charts(study: Study) -> tuple[ControlChartView | None, ControlChartView | None]:
    chart, axis = study.found.chart, study.axis
    if chart is None:
        return None, None
    lines = [
        ("upper", chart.upper, Tone.PLAIN),
        ("mean", chart.mean, Tone.QUIET),
        ("lower", chart.lower, Tone.PLAIN),
    ]
    limits = (study.found.upper, study.found.lower)
    lines += [("tolerance", limit, Tone.DANGER) for limit in limits if limit is not None]
    individuals = ControlChartView(
        study.title,
        axis.unit,
        np.array(study.found.values) * axis.factor,
        _drawn(lines, axis),
        frozenset(run.last for run in study.found.runs),
    )
    ranges = ControlChartView(
        "Moving range, each value to the one before",
        axis.unit,
        np.array([np.nan, *chart.moving_ranges]) * axis.factor,
        _drawn(
            (("limit", chart.range_upper, Tone.PLAIN), ("mean", chart.mean_range, Tone.QUIET)), axis
        ),
        frozenset(place + 1 for place in chart.ranges_beyond),
    )
    return individuals, ranges


def _drawn(
    lines: Sequence[tuple[str, float, Tone]], axis: Axis
) -> tuple[tuple[str, float, Tone], ...]:
    return tuple(
        (f"{words} {axis.number(value)}", value * axis.factor, tone) for words, value, tone in lines
    )


def _points(study: Study) -> tuple[ChartPoint, ...]:
    fired = {run.last: run.rule.value for run in study.found.runs}
    if study.quantity is Quantity.CHECK:
        return tuple(
            ChartPoint(
                "",
                "",
                f"{place + 1}",
                one.utc,
                (
                    study.axis.signed(one.error),
                    "passed" if one.passed else "FAILED",
                    fired.get(place, ""),
                ),
                "circle" if one.passed else "square",
                place in fired,
            )
            for place, one in enumerate(study.checks)
        )
    return tuple(
        ChartPoint(
            one.unit_id,
            one.serial,
            f"{place + 1}: {one.serial}",
            one.utc,
            (
                study.axis.signed(study.found.values[place]),
                one.decision,
                str(one.standing),
                "amended" if one.amended else "",
                "" if one.first_pass else "not right the first time",
                fired.get(place, ""),
            ),
            _shape(one),
            place in fired,
        )
        for place, one in enumerate(study.figures)
    )


def _shape(figure: Figure) -> str:
    if figure.standing in STOPPED:
        return "square"
    return "circle" if figure.first_pass else "triangle"


def _rows(study: Study) -> tuple[ListRow, ...]:
    """Return a row for each rule that fired, newest first; it opens the unit that completed it."""
    found = [(run.first, run.last, run.rule.value) for run in study.found.runs]
    chart = study.found.chart
    if chart is not None:
        words = "moving range beyond its limit"
        found += [(place, place + 1, words) for place in chart.ranges_beyond]
    rows = []
    for first, last, words in sorted(found, key=lambda one: one[1], reverse=True):
        one = study.figures[last] if study.figures else None
        where = f"{first + 1} to {last + 1}" if last > first else f"{last + 1}"
        when = one.utc if one is not None else study.checks[last].utc
        rows.append(
            ListRow(
                one.unit_id if one is not None else "",
                f"{where}: {one.serial}" if one is not None else where,
                (words,),
                "rule",
                Tone.CAUTION,
                note=local_day(when),
            )
        )
    return tuple(rows)


def _other_row(study: Study, one: Rejudged) -> ListRow:
    figure = one.figure
    # The row is narrow: what is said first stays whole.
    below = [study.axis.signed(figure.deviation), local_day(figure.utc), str(figure.standing)]
    if one.probability is not None:
        below.insert(1, f"within: {percent(one.probability, 1)}")
    return ListRow(
        figure.unit_id,
        figure.serial,
        tuple(below),
        one.decision.value,
        _TONES[one.decision],
        note=f"judged {figure.decision}",
    )
