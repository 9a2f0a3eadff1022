"""Oil in the tray that no tare proves, weighed by difference against the tray's empty weight.

The empty weight is remembered: the load of the tray's last proven tare with what was captured on
it since, or the load that stood steady just before the oil came. What the scale has tared away now
is one of few loads; only one of them leaves an amount of oil that can be meant, for a tray weighs
far more than what is bled.
"""

from dataclasses import dataclass

from benchstation.domain.oil_balance import Purpose
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.tared_loads import OnScale

LEAST_TRAY_KG = 0.02
"""No tray is lighter: less than this is an empty scale."""


@dataclass(frozen=True, slots=True)
class EmptyTray:
    """The tray's weight before the oil that is asked about, and what may be tared away now, kg.

    Both are counted on from the scale's tares before.
    """

    load_kg: float
    tared_kg: tuple[float, ...]


def empty_tray(rebuild: Rebuild, instrument_id: str, standing_kg: float) -> EmptyTray | None:
    """Return what is remembered of the tray on a scale; ``None``: it was not seen empty on it.

    ``standing_kg`` is the load at which the scale shows zero, that of its last proven tare.
    """
    doubts, trays = rebuild.unweighed, (instrument_id, OnScale.TRAY)
    if not doubts or any(Purpose(doubt.purpose) is not Purpose.BLEED for doubt in doubts):
        return None
    mine = [one for one in rebuild.loads if (one.instrument_id, one.on) == trays]
    if mine:
        # A tare that was sent since and not proven may have been taken all the same.
        seen = (d.seen_empty_kg for d in doubts if d.scale_id == instrument_id)
        sent = tuple(load for load in seen if load is not None)
        return EmptyTray(mine[-1].expected_kg, (standing_kg, 0.0, *sent))
    first = doubts[0]
    if first.seen_empty_kg is None or first.scale_id != instrument_id:
        return None
    # Whether the scale took that tare is not known: the oil came before it stood at zero.
    return EmptyTray(first.seen_empty_kg, (standing_kg, first.seen_empty_kg, 0.0))


def oil_in_tray_kg(
    tray: EmptyTray, shown_kg: float, *, least_kg: float, most_kg: float
) -> float | None:
    """Return the oil in the tray when the scale shows this; ``None`` where it cannot be told."""
    found = {round(shown_kg + tared - tray.load_kg, 9) for tared in tray.tared_kg}
    meant = [oil for oil in found if least_kg <= oil <= most_kg]
    return meant[0] if len(meant) == 1 else None
