"""A process that does not exist, as the page Quality shows it: a hand that begins to creep."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from benchstation.domain.disposition import Standing
from benchstation.domain.quality import Figure, Quantity
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.quality import OtherLimitView, QualityQuestion, QualityView
from benchstation.screens.quality.page import other_limit_of, view_of
from benchstation.screens.quality.study import Study, answered, check_study, unit_study
from benchstation.store.figures import CheckFigure, Yield

FAMILIES = ("K-6 Carrier", "MR 46 front, rescue sledge with the long travel")
PEOPLE = {"p1": "Alex Sample", "p2": "Maximiliane Oberwiesenfelderhuber"}
GAUGE, SCALE = "gauge-1 at bench-1", "scale-1 at bench-1"
START = datetime(2026, 2, 2, 8, 1, tzinfo=UTC)
FIRST = Figure("bench-1", "u0", "MR-1000", FAMILIES[1], START, 0.0, 0.0, 2e-4, 4e-5, "pass",
               Standing.RELEASED, True, 0, "p1", "mr-46-front, revision 3")  # fmt: skip
SIZES = {
    Quantity.OIL: (0.2219, 3e-5, 2e-4, 4e-5),
    Quantity.CHARGE: (15.1e5, 9e3, 4e4, 5e3),
    Quantity.LEAK: (0.0, 3e-8, 2e-7, 1.5e-8),
}
"""Target, scatter, limit and u."""


def figures(quantity: Quantity, count: int) -> tuple[Figure, ...]:
    target, scatter, limit, u = SIZES[quantity]
    rng = np.random.default_rng(2)
    late = np.maximum(0, np.arange(count) - 0.75 * count) * 0.08 * scatter
    values = target + np.round((rng.normal(0.0, scatter, count) + late) / scatter * 8) * scatter / 8
    return tuple(
        replace(
            FIRST,
            unit_id=f"u{n}",
            serial=f"MR-{1000 + n}",
            utc=START + n * timedelta(hours=3),
            value=float(value),
            target=target,
            limit=limit,
            u=u,
            standing=Standing.ON_HOLD if n % 31 == 7 else Standing.RELEASED,
            first_pass=n % 13 != 5,
            decision="undecided" if abs(value - target) > limit - 1.645 * u else "pass",
        )
        for n, value in enumerate(values)
    )


def study(question: QualityQuestion, system: UnitSystem, count: int) -> Study:
    if question.quantity == Quantity.CHECK:
        rng = np.random.default_rng(5)
        size, role = (2000.0, "gauge") if question.name == GAUGE else (3e-4, "scale")
        checks = tuple(
            CheckFigure(START + n * timedelta(days=1), "zero check", 0.0,
                        float(rng.normal(0, 0.08 * size) + max(0, n - 40) * 0.02 * size),
                        size, n < 75)
            for n in range(min(count, 80))
        )  # fmt: skip
        return check_study(question, checks, role, system)
    quantity = Quantity(question.quantity)
    count = min(count, question.count)
    months = [(START + timedelta(days=30 * n), Yield(90 - n, 81)) for n in range(3)]
    steps = [("Weigh in", 3, 2), ("Charge", 1, 1)]
    return unit_study(question, figures(quantity, count), months, steps, system, PEOPLE)


def choices(question: QualityQuestion) -> tuple[tuple[str, str], ...]:
    if question.quantity == Quantity.CHECK:
        return ((GAUGE, GAUGE), (SCALE, SCALE))
    if question.by == "technician":
        return tuple(PEOPLE.items())
    names = {"lot": ("L-0417", "L-0502"), "instrument": (SCALE,), "bench": ("bench-1",)}
    return tuple((name, name) for name in names.get(question.by, ()))


def quality(question: QualityQuestion, system: UnitSystem, count: int) -> QualityView:
    question = answered(question, choices(question))
    return view_of(study(question, system, count), choices(question), FAMILIES, system)


def other_limit(
    question: QualityQuestion, typed: str, system: UnitSystem, count: int
) -> OtherLimitView:
    return other_limit_of(study(question, system, count), typed, system)
