"""The newest earlier rebuild of a serial, beside the form."""

from benchstation.bench.next_unit import NextUnit
from benchstation.quantities.formatter import QuantityFormatter, local_day
from benchstation.screens.model.elements import TermGroup, TermView


def earlier_groups(next_unit: NextUnit, words: QuantityFormatter) -> tuple[TermGroup, ...]:
    """Return its figures as terms; nothing where there is none."""
    earlier = next_unit.earlier
    if earlier is None:
        return ()
    times = "once" if earlier.times == 1 else f"{earlier.times} times"
    terms = [
        TermView("Family", earlier.family, f"decision: {earlier.decision}"),
        *(TermView(name, text) for name, text in earlier.notes),
    ]
    if earlier.net_volume_m3 is not None:
        terms.append(TermView("Net oil", words.volume(earlier.net_volume_m3), "at the reference"))
    if earlier.settled_gauge_pa is not None:
        terms.append(TermView("Charge, settled", words.gauge(earlier.settled_gauge_pa)))
    terms += [TermView(f"Stack, {side}", text) for side, text in earlier.stacks.items()]
    when = local_day(earlier.utc)
    return (TermGroup(f"Here before {times}, last {when}", tuple(terms)),)
