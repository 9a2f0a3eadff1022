"""What a chart of the process says, on screen and on paper alike."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from benchstation.domain.quality import LEAST, PROVISIONAL, Evaluation, Quantity, RuleRun, Scale
from benchstation.metrology.capability import Bounded
from benchstation.quantities.formatter import local_day
from benchstation.quantities.notation import first_power, fixed, percent, power_of_ten, significant
from benchstation.quantities.units import Dimension, UnitSystem, display_unit, to_display

WHAT_COUNTS = (
    "Every filed unit that has the figure counts, once and as it was filed: held, rejected and "
    "reworked ones are what was made too. An amendment changes what was typed, never a figure that "
    "is charted. Units given up have no figures; they count in the yield."
)
TITLES = {
    Quantity.OIL: "Oil, deviation from the target",
    Quantity.CHARGE: "Charge, deviation from the target",
    Quantity.LEAK: "Leak rate",
    Quantity.CHECK: "Checks, shown less true",
}
DIMENSIONS = {
    Quantity.OIL: Dimension.MASS,
    Quantity.CHARGE: Dimension.PRESSURE,
    Quantity.LEAK: Dimension.LEAK,
}
SHARE_UNIT = "% of the tolerance"
Line = tuple[str, str, str]
"""What, how much, and where it comes from."""


@dataclass(frozen=True, slots=True)
class Axis:
    """How the values of one chart are written: all in one unit, to the last digit that counts."""

    unit: str
    factor: float
    decimals: int

    def fine_enough(self, value: float) -> "Axis":
        """Return the axis with two digits at least of this value."""
        place = first_power(abs(value) * self.factor, 2)
        return self if place is None else replace(self, decimals=max(self.decimals, _after(place)))

    def number(self, value: float) -> str:
        """Return a value without its unit."""
        return fixed(value * self.factor, self.decimals)

    def text(self, value: float) -> str:
        """Return a value with its unit."""
        return f"{self.number(value)} {self.unit}"

    def signed(self, value: float) -> str:
        """Return a difference, its sign always written."""
        number = self.number(value)
        plus = "+" if value > 0.0 and any(c in "123456789" for c in number) else ""
        return f"{plus}{number} {self.unit}"


def axis_of(
    dimension: Dimension | None, values: Sequence[float], spread: float, system: UnitSystem
) -> Axis:
    """Return the axis of these values, ``None`` for shares; the spread has two digits."""
    if dimension is None:
        factor, unit = 100.0, SHARE_UNIT
    else:
        # A difference: where the unit's own zero lies does not matter.
        factor = to_display(1.0, dimension, system) - to_display(0.0, dimension, system)
        unit = display_unit(dimension, system)
    largest = max((abs(value * factor) for value in values), default=0.0)
    if dimension is Dimension.LEAK and largest > 0.0:
        power = first_power(largest, 2) or 0
        factor, unit = factor / 10.0**power, f"{power_of_ten(power)} {unit}"
    place = first_power(spread * factor, 2)
    return Axis(unit, factor, 2 if place is None else _after(place))


def _after(place: int) -> int:
    """Return how many decimals show two digits of what begins at this power of ten."""
    return min(9, max(0, 1 - place))


def chart_lines(found: Evaluation, axis: Axis) -> tuple[Line, ...]:
    """Return the lines about the limits of both charts."""
    chart = found.chart
    if chart is None:
        return (("Values", str(len(found.values)), why_no_chart(found)),)
    return (
        (
            "Values",
            str(len(found.values)),
            f"limits are provisional below {PROVISIONAL}" if found.provisional else "",
        ),
        ("Centre line", axis.text(chart.mean), "mean of all shown"),
        (
            "Control limits",
            f"{axis.number(chart.lower)} to {axis.text(chart.upper)}",
            "mean ± 3 × mean moving range / 1.128 (e-Handbook 6.3.2.2, ISO 7870-2)",
        ),
        ("Short-term spread", axis.text(chart.sigma), "mean moving range / 1.128"),
        (
            "Moving range, limit",
            axis.text(chart.range_upper),
            f"3.267 × the mean of {axis.text(chart.mean_range)}",
        ),
    )


def why_no_chart(found: Evaluation) -> str:
    """Return why there is no chart."""
    count = len(found.values)
    if count < LEAST:
        return f"it needs {LEAST} values at least, and has {count}"
    return "all values are the same: they say more of the display than of the process"


def capability_lines(found: Evaluation, axis: Axis) -> tuple[Line, ...]:
    """Return the lines that compare the process with its tolerance."""
    upper, able = found.upper, found.capability
    if upper is None:
        return ()
    one_sided = found.lower is None
    said = f"at most {axis.text(upper)}" if one_sided else f"± {axis.text(upper)}"
    if axis.unit == SHARE_UNIT:
        said = "of each unit's own specification"
    others = f"of the newest unit; {found.limits} differ among these" if found.limits > 1 else ""
    lines: list[Line] = [("Limit" if one_sided else "Tolerance", said, others)]
    if able is None:
        return (*lines, ("Capability", "not known", "it needs three values that differ"))
    short: tuple[tuple[str, Bounded | None], ...] = (("Cp", able.cp), ("Cpk", able.cpk))
    if not able.in_control:
        short = ()
        lines.append(
            ("Cp, Cpk", "not quoted", "a rule fired: the process is not in statistical control")
        )
    for name, index in (*short, ("Pp", able.pp), ("Ppk", able.ppk)):
        if index is not None:
            between = f"{fixed(index.lower, 2)} to {fixed(index.upper, 2)} with 95 % confidence"
            source = "short-term spread" if name in ("Cp", "Cpk") else "spread of all"
            lines.append((name, fixed(index.value, 2), f"{between}; {source} (e-Handbook 6.1.6)"))
    share = f"{significant(100.0 * able.fraction_outside, 2)} %"
    lines.append(("Outside, if normal", share, "of such units, by mean and spread of all"))
    return tuple(lines)


def rule_words(run: RuleRun) -> str:
    """Return which points a rule holds for, counted from one."""
    if run.first == run.last:
        return f"at {run.last + 1}"
    return f"from {run.first + 1} to {run.last + 1}"


def yield_words(first_pass: int, units: int) -> str:
    """Return a yield in words; none of none is no share."""
    if not units:
        return "no units"
    return f"{percent(first_pass / units)}, {first_pass} of {units}"


def group_words(family: str, by: str, name: str) -> str:
    """Return whose units a chart is of."""
    whose = family or "all families"
    return f"{whose}, {by} {name}" if by else whose


def title_of(quantity: Quantity, scale: Scale) -> str:
    """Return the heading of a chart."""
    return f"{TITLES[quantity]}{', as a share' if scale is Scale.SHARE else ''}"


def days(utcs: Sequence[datetime]) -> str:
    """Return the local days from the first time to the last; empty without any."""
    return f"{local_day(utcs[0])} to {local_day(utcs[-1])}" if utcs else ""
