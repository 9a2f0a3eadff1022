"""The control charts as QA looks at them every evening, and what their alarms were worth."""

from dataclasses import dataclass, field
from datetime import datetime
from statistics import mean
from typing import Any

from benchstation.domain.quality import Figure
from benchstation.metrology.run_rules import Rule
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.quality import QualityQuestion
from benchstation.screens.quality.study import study_of
from benchstation.store.chain_store import ChainStore
from benchstation.store.figures import By as GroupBy
from tests.month.scenario import CREEPS, HAND_KG, Job, Month

LASTING = {Rule.TWO_FAR_OUT, Rule.FOUR_OUTSIDE, Rule.ONE_SIDED}
"""The rules that speak of a shift; a single point beyond its limit may be one slip."""


@dataclass(frozen=True, slots=True)
class Alarm:
    """A rule that fired in a technician's chart on an evening, and the units that it is about."""

    day: int
    person: str
    rule: Rule
    serials: tuple[str, ...]


@dataclass(slots=True)
class Charts:
    """What each technician's chart of oil said that it had not said before."""

    alarms: list[Alarm] = field(default_factory=list)
    _until: dict[str, str] = field(default_factory=dict)

    def look(self, store: ChainStore, people: dict[str, str], day: int, now: datetime) -> None:
        """Look at each one's chart; what ends in a unit that was not in it before is new."""
        for person in people:
            question = QualityQuestion(quantity="oil", by=GroupBy.TECHNICIAN, name=person)
            study = study_of(store, question, UnitSystem.METRIC, now, people)
            figures = study.figures
            known = _place(figures, self._until.get(person, ""))
            for run in study.found.runs:
                if run.last > known:
                    serials = tuple(f.serial for f in figures[run.first : run.last + 1])
                    self.alarms.append(Alarm(day, person, run.rule, serials))
            if figures:
                self._until[person] = figures[-1].unit_id


def _place(figures: tuple[Figure, ...], unit_id: str) -> int:
    return next((n for n, one in enumerate(figures) if one.unit_id == unit_id), -1)


def crept(job: Job, month: Month) -> bool:
    """Return True when the hand of this unit's technician had crept."""
    return job.technician == CREEPS and job.day > month.events["creep"]


def figures_of(charts: Charts, month: Month) -> dict[str, Any]:
    """Return how many alarms were about something, how many about nothing, and how late."""
    jobs = {job.serial: job for job in month.jobs}

    def true(alarm: Alarm) -> bool:
        about = [jobs[serial] for serial in alarm.serials]
        return any(crept(job, month) or job.slipped or job.scale_gain != 1.0 for job in about)

    false = [alarm for alarm in charts.alarms if not true(alarm)]
    crept_jobs = [job for job in month.jobs if crept(job, month)]
    told = first_of_creep(charts, month)
    before = [job for job in crept_jobs if told is not None and job.day <= told.day]
    at_last = [job.crept_kg for job in before]
    return {
        "alarms of the oil charts": len(charts.alarms),
        "of them about nothing": [f"day {a.day}: {a.person}, {a.rule.value}" for a in false],
        "units in a month": len(month.jobs),
        "creep began on day": month.events["creep"] + 1 if crept_jobs else None,
        "the charts told of the creep on day": told.day if told is not None else None,
        "units that crept until then": len(before),
        "by then it was, g": round(1e3 * at_last[-1], 2) if at_last else None,
        "scatter of the hand, g": 1e3 * HAND_KG,
        "mean of the creep until then, g": round(1e3 * mean(at_last), 2) if at_last else None,
    }


def first_of_creep(charts: Charts, month: Month) -> Alarm | None:
    """Return the first alarm of a shift that is about units that crept, and about no slip."""
    jobs = {job.serial: job for job in month.jobs}
    for alarm in charts.alarms:
        about = [jobs[serial] for serial in alarm.serials]
        if alarm.rule in LASTING and alarm.person == CREEPS and crept(about[-1], month):
            return alarm
    return None


def who_shifts(charts: Charts, month: Month) -> list[tuple[str, int]]:
    """Return on how many evenings of the later half each one's chart told of a shift."""
    half = month.days // 2
    evenings = {(a.person, a.day) for a in charts.alarms if a.rule in LASTING and a.day >= half}
    found: dict[str, int] = {}
    for person, _ in sorted(evenings):
        found[person] = found.get(person, 0) + 1
    return sorted(found.items(), key=lambda one: (-one[1], one[0]))
