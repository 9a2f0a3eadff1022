"""What a second reading says in one line each: what was lost, the leak, and what is believed."""

from benchstation.domain.inputs.second_reading import MASS, PRESSURE
from benchstation.domain.recorded_parts import LossRead
from benchstation.domain.unit_record import RecordedSecond
from benchstation.quantities.formatter import QuantityFormatter, signed, span


def loss_in_words(name: str, read: LossRead, words: QuantityFormatter) -> str:
    """Return what a unit lost by one kind of reading, with U, in so long a time."""
    if name == MASS:
        lost, u = words.mass(read.loss, 3), words.mass(2 * read.u_loss, 3)
    else:
        lost, u = words.pressure(read.loss, 3), words.pressure(2 * read.u_loss, 3)
    leak = words.leak(read.rate_pa_m3_s, 2 * read.u_rate_pa_m3_s)
    return f"lost {lost}, U {u}, in {span(read.seconds)}: {leak}"


def readings_in_words(name: str, read: LossRead, words: QuantityFormatter) -> str:
    """Return both readings of one kind."""
    if name == MASS:
        first, second = words.mass(read.first, 2), words.mass(read.second, 2)
        added = f"buoyancy of both days {words.mass_difference(read.correction, 3)}"
    else:
        first, second = words.pressure(read.first, 3), words.pressure(read.second, 3)
        added = f"temperature and fill tool {signed(words.pressure_shown(read.correction, 3))}"
    return f"{first}, then {second}; {added}"


def second_lines(found: RecordedSecond | None, words: QuantityFormatter) -> list[tuple[str, str]]:
    """Return what a record says of its second reading, as (what, value); nothing without one."""
    if found is None:
        return []
    lines = []
    for name, read in ((MASS, found.by_mass), (PRESSURE, found.by_pressure)):
        if read is not None:
            lines.append((f"Readings of {name}", readings_in_words(name, read, words)))
            lines.append((f"Loss by {name}", loss_in_words(name, read, words)))
    if found.disbelieved:
        said = f"mass and pressure disagree; the {found.disbelieved} is not used"
        lines.append(("Disagreement", said))
    leak = words.leak(found.rate_pa_m3_s, 2 * found.u_rate_pa_m3_s)
    decision = f"{leak} (k = 2), allowed {words.leak(found.allowed_pa_m3_s)}: {found.decision}"
    return [*lines, (f"Leak by {found.believed}", decision)]
