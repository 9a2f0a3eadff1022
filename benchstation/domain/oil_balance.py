"""The oil in a unit from what was weighed: which captures count, by lot, and what they mixed to.

Net oil is poured + topped up - bled - spilled. Each captured mass belongs to a portion: what was
weighed since one tare. Within a portion the newest capture counts, for it shows the same oil once
more; portions add. To average repeated weighings, or to pick among them, is not allowed here: the
newest counts, and all of them are on record.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from benchstation.domain.events import MassCaptured
from benchstation.metrology.window_scatter import Scatter
from benchstation.physics.oil import Oil


class Purpose(StrEnum):
    """What a mass was weighed for."""

    POUR = "pour"
    TOPUP = "topup"
    BLEED = "bleed"
    SPILL = "spill"
    BEFORE = "before"
    """The whole unit before the pour; no oil by itself."""

    @property
    def adds(self) -> bool:
        """Return True when this oil comes into the unit."""
        return self in (Purpose.POUR, Purpose.TOPUP)


SIGNS = {Purpose.POUR: 1, Purpose.TOPUP: 1, Purpose.BLEED: -1, Purpose.SPILL: -1}


def counting(captures: Iterable[MassCaptured]) -> tuple[MassCaptured, ...]:
    """Return the captures that count, in the order in which their portions began."""
    kept: dict[tuple[str, str, str], dict[int, MassCaptured]] = {}
    for captured in captures:
        if captured.purpose == Purpose.BEFORE:
            continue
        portions = kept.setdefault((captured.step_id, captured.purpose, captured.oil_lot), {})
        if captured.again:
            portions.clear()
        portions[captured.portion] = captured
    return tuple(c for portions in kept.values() for c in portions.values())


def next_portion(captures: Iterable[MassCaptured]) -> int:
    """Return the number of the next portion; those written before there were portions have 0."""
    return 1 + max((c.portion for c in captures), default=0)


def signed_kg(captured: MassCaptured) -> float:
    """Return what a capture adds to the oil in the unit, as shown, kg."""
    return SIGNS[Purpose(captured.purpose)] * captured.shown_kg


def net_shown_kg(parts: Iterable[MassCaptured]) -> float:
    """Return the oil in the unit, as shown, kg."""
    return sum((signed_kg(part) for part in parts), 0.0)


def added_by_lot(parts: Iterable[MassCaptured], first_lot: str) -> dict[str, float]:
    """Return the mass added from each lot, as shown; a part that names none is of ``first_lot``."""
    added: dict[str, float] = {}
    for part in parts:
        if Purpose(part.purpose).adds:
            lot = part.oil_lot or first_lot
            added[lot] = added.get(lot, 0.0) + part.shown_kg
    return {lot: kg for lot, kg in added.items() if kg > 0}


@dataclass(frozen=True, slots=True)
class Mixture:
    """Oil of one lot or several: as one oil, and each lot's share of the mass."""

    oil: Oil
    shares: Mapping[str, float]


def mixture(added: Mapping[str, float], lots: Mapping[str, Oil], otherwise: str) -> Mixture:
    """Return what masses of some lots mix to; with none added yet, the lot ``otherwise``.

    Volumes add (an ideal mixture; lots of one grade differ by a fraction of a percent, and the
    excess volume of such oils is far below that). So density at 15 degC and expansion are weighted
    by volume: rho = sum m / sum(m / rho_i), a = sum(v_i a_i) / sum v_i. The density's relative
    uncertainty is that of independent lots, u = sqrt(sum((w_i u_i)^2)), w by mass (JCGM 100 5.1.2).
    Their expansion comes from one standard: its uncertainties add up as they are.
    What is bled or spilled afterwards is taken to be this mixture.
    """
    if not added:
        added = {otherwise: 1.0}
    total = sum(added.values())
    shares = {lot: kg / total for lot, kg in added.items()}
    if len(shares) == 1:
        return Mixture(lots[next(iter(shares))], shares)
    volumes = {lot: share / lots[lot].rho15_kg_m3 for lot, share in shares.items()}
    volume = sum(volumes.values())
    alpha = sum(v * lots[lot].alpha15_per_k for lot, v in volumes.items()) / volume
    u_rel = sum((share * lots[lot].u_rel) ** 2 for lot, share in shares.items()) ** 0.5
    u_alpha = sum(v * lots[lot].u_alpha15_per_k for lot, v in volumes.items()) / volume
    covariance = (
        sum(shares[lot] * v * lots[lot].covariance_per_k for lot, v in volumes.items()) / volume
    )
    return Mixture(Oil(1.0 / volume, alpha, u_rel, u_alpha, covariance), shares)


@dataclass(frozen=True, slots=True)
class Weighings:
    """How the oil was weighed, for the budget: tared, as differences, and typed (their u, kg).

    ``repeated`` is what each tared mass and difference scatters by; empty where that is not known
    of all of them.
    """

    tared: int = 0
    differences: int = 0
    by_hand: tuple[float, ...] = ()
    repeated: tuple[Scatter, ...] = ()

    def __add__(self, more: "Weighings") -> "Weighings":
        """Return both together."""
        known = all(len(w.repeated) == w.tared + w.differences for w in (self, more))
        return Weighings(
            self.tared + more.tared,
            self.differences + more.differences,
            self.by_hand + more.by_hand,
            self.repeated + more.repeated if known else (),
        )


def weighings_of(parts: Sequence[MassCaptured]) -> Weighings:
    """Count the weighings behind what counts."""
    typed = tuple(p.by_hand.u_kg or 0.0 for p in parts if p.by_hand)
    live = [p for p in parts if not p.by_hand]
    differences = sum(p.method == "difference" for p in live)
    known = [
        Scatter(p.u_repeated_kg, math.inf if p.dof_repeated is None else p.dof_repeated)
        for p in live
        if p.u_repeated_kg is not None
    ]
    repeated = tuple(known) if len(known) == len(live) else ()
    return Weighings(len(live) - differences, differences, typed, repeated)
