"""How numbers of any size are written: powers of ten with a raised exponent."""

import math

NO_VALUE = "—"
"""Shown in place of a number that is not there."""
MINUS = "−"
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def powered(value: float, expanded: float = 0.0) -> str:
    """Return a number of any size in powers of a thousand, as (−0.02 ± 0.30) × 10⁻³.

    The uncertainty has two significant digits and the value ends at its last place (JCGM 100:2008,
    7.2.6). Without one, which 0 says, the value has three significant digits.
    """
    if not (math.isfinite(value) and math.isfinite(expanded)):
        return NO_VALUE
    digits = (first_power(value, 3), first_power(expanded, 2))
    largest = max((d for d in digits if d is not None), default=0)
    power = 3 * (largest // 3)
    place = digits[1] - 1 if digits[1] is not None else (digits[0] or 0) - 2
    if power < place:
        # "300" does not say which of its digits count; "0.30" does.
        power += 3
    decimals = power - place

    def scaled(number: float) -> str:
        return fixed(number / 10.0**power, decimals)

    times = f" × {power_of_ten(power)}" if power else ""
    if not expanded:
        return f"{scaled(value)}{times}"
    return f"({scaled(value)} ± {scaled(expanded)}){times}"


def fixed(value: float, decimals: int) -> str:
    """Return a number with this many decimals; one that rounds to nothing has no sign."""
    if not math.isfinite(value):
        return NO_VALUE
    # "z" keeps a value that rounds to nothing from showing as -0.0.
    return f"{value:z.{decimals}f}".replace("-", MINUS)


def tick_text(value: float, step: float) -> str:
    """Return a scale's number with as many decimals as its step needs."""
    return fixed(value, max(0, -math.floor(math.log10(step) + 1e-9)) if step > 0 else 0)


def percent(share: float, decimals: int = 0) -> str:
    """Return a share as percent, with its sign."""
    return f"{fixed(100.0 * share, decimals)} %"


def scientific(value: float, digits: int) -> str:
    """Return a number with this many significant digits and one of them before the point."""
    number, _, power = f"{value:.{digits - 1}e}".partition("e")
    number = number.replace("-", MINUS)
    return f"{number} × {power_of_ten(int(power))}" if int(power) else number


def significant(value: float, digits: int) -> str:
    """Return a number with at most this many significant digits and no zeros at its end.

    From a million on and below a thousandth it is in powers of ten, as 1.2 × 10⁻⁶.
    """
    power = first_power(value, digits) if math.isfinite(value) else None
    if power is None:
        return NO_VALUE if not math.isfinite(value) else "0"
    if -3 <= power < 6:
        text = fixed(float(f"{value:.{digits - 1}e}"), max(0, digits - 1 - power))
        return text.rstrip("0").rstrip(".") if "." in text else text
    number, times, of = scientific(value, digits).partition(" × ")
    return (number.rstrip("0").rstrip(".") if "." in number else number) + times + of


def power_of_ten(exponent: int) -> str:
    """Return a power of ten with a raised exponent, as 10⁻³."""
    return f"10{str(exponent).translate(_RAISED)}"


def first_power(value: float, digits: int) -> int | None:
    """Return the power of ten of the first digit, once rounded; ``None`` for nothing."""
    return int(f"{value:.{digits - 1}e}".partition("e")[2]) if value else None
