"""The audit at the end: what the workbench answers, held against what was really in each unit."""

from collections import Counter
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any

from benchstation.domain.disposition import Standing
from benchstation.domain.materials import text_key
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.quality import QualityQuestion
from benchstation.screens.quality.study import study_of
from benchstation.store.figures import By as GroupBy
from benchstation.store.filters import By, Filters, each_unit
from benchstation.store.recall import doubt_about, units_since
from benchstation.store.shop.shop_store import ShopStore
from benchstation.store.shop.status import status_of
from benchstation.store.unit_rows import UnitRow
from tests.month.desk import at_desk, evening
from tests.month.running import Shop
from tests.month.scenario import CREEPS, DEAF_SCALE, morning

MOST = 2_000
LEFT = (
    Standing.SHIPPED,
    Standing.SHIPPED_ALONE,
    Standing.SHIPPED_HELD,
    Standing.SHIPPED_REJECTED,
    Standing.SHIPPED_UNRELEASED,
    Standing.RETURNED,
)


@dataclass(slots=True)
class Answer:
    """One question, what the workbench says, what is so, and whether both agree."""

    question: str
    said: Any
    so: Any
    agrees: bool


@dataclass(slots=True)
class Audit:
    """All answers, and the figures of the month."""

    figures: dict[str, Any] = field(default_factory=dict)
    answers: list[Answer] = field(default_factory=list)

    def ask(self, question: str, said: Any, so: Any, *, agrees: bool | None = None) -> None:
        """Note an answer."""
        self.answers.append(Answer(question, said, so, said == so if agrees is None else agrees))

    @property
    def wrong(self) -> list[Answer]:
        """Return the answers that do not agree with what is so."""
        return [answer for answer in self.answers if not answer.agrees]

    def as_data(self) -> dict[str, Any]:
        """Return all of it as plain data."""
        return {"figures": self.figures, "answers": [asdict(one) for one in self.answers]}


def audit(shop: Shop) -> Audit:
    """Ask the workbench of the shop what happened in the month."""
    done, when = Audit(), evening(morning(shop.month.days - 1))
    with at_desk(shop.desk, shop.folder / "desk", when) as desk:
        store = desk.store
        _records(done, shop, store)
        _shipped(done, shop, store)
        _instruments(done, shop, store)
        _kit(done, shop, store)
        _people(done, store, when, {p.person_id: p.name for p in desk.session.shop.people.values()})
        _chains(done, store)
    return done


def _rows(store: ShopStore, by: By, *keys: str) -> list[UnitRow]:
    return list(each_unit(store, Filters({by: keys})))


def _serials(rows: list[UnitRow]) -> list[str]:
    return sorted(row.serial for row in rows)


def _records(done: Audit, shop: Shop, store: ShopStore) -> None:
    """Is every unit that was made on record once, and does no record pass what is not so?"""
    filed = _rows(store, By.STATE, "filed")
    done.ask(
        "every unit that left a bench is on record once",
        _serials(filed),
        sorted(made.job.serial for made in shop.made),
    )
    passed = {row.unit_id for row in filed if row.decision == "pass"}
    known = set(shop.rejected)
    false = sorted(
        made.job.serial
        for made in shop.made
        if made.unit_id in passed and not made.inside and made.unit_id not in known
    )
    done.ask("units recorded as pass that were outside, beside those a check took back", false, [])
    outside = [made for made in shop.made if not made.inside]
    done.figures |= {
        "units": len(filed),
        "outside": len(outside),
        "standing": dict(Counter(_standing_counts(store))),
        "network away": sum(day.unsent for _, _, day in shop.days),
        "failed checks": [
            (d, b, *day.failed_checks) for d, b, day in shop.days if day.failed_checks
        ],
    }


def _failed(shop: Shop) -> list[tuple[object, ...]]:
    return [(n, b, *day.failed_checks) for n, b, day in shop.days if day.failed_checks]


def _standing_counts(store: ShopStore) -> list[str]:
    return [s.value for s in Standing for _ in _rows(store, By.STANDING, s.value)]


def _shipped(done: Audit, shop: Shop, store: ShopStore) -> None:
    """Which units were shipped that should not have been?"""
    left = _rows(store, By.STANDING, *(standing.value for standing in LEFT))
    done.ask("what left the shop", sorted(r.unit_id for r in left), sorted(shop.shipped))
    accepted = {row.unit_id for row in _rows(store, By.DEVIATION, "yes")}
    inside = {made.unit_id: made.inside for made in shop.made}
    unsigned = [row for row in left if not inside[row.unit_id] and row.unit_id not in accepted]
    done.ask("shipped outside without a signed deviation", _serials(unsigned), [])
    signed = [row for row in left if not inside[row.unit_id] and row.unit_id in accepted]
    done.figures["shipped outside by a signed deviation"] = _serials(signed)


def _instruments(done: Audit, shop: Shop, store: ShopStore) -> None:
    """Which units rest on the scale that failed, since its last good check?"""
    doubt = doubt_about(store, "scale-1", DEAF_SCALE)
    said = [
        row
        for row in units_since(store, ["scale-1"], limit=MOST)
        if row.bench == DEAF_SCALE and doubt.failed is not None
    ]
    day = shop.month.events["scale"]
    so = [m for m in shop.made if m.job.bench == DEAF_SCALE and m.job.day == day]
    done.ask(
        "units weighed since the last good check of the scale that failed",
        _serials(said),
        sorted(made.job.serial for made in so),
    )
    damaged = {made.unit_id for made in so if made.job.scale_gain != 1.0}
    done.ask(
        "of the damaged scale's units that left the shop", sorted(damaged & set(shop.shipped)), []
    )


def _kit(done: Audit, shop: Shop, store: ShopStore) -> None:
    """Which delivery of seals is behind what came back, and who has the rest of it?"""
    back = {row.unit_id for row in _rows(store, By.STANDING, Standing.RETURNED.value)}
    kits: Counter[str] = Counter()
    for kit in shop.month.kits.values():
        kits[kit] = sum(row.unit_id in back for row in _rows(store, By.PART, text_key(kit)))
    most = next(iter(dict((+kits).most_common(1))), "")
    done.ask("the kit of most that came back", most, shop.month.bad_kit)
    recalled = _rows(store, By.PART, text_key(shop.month.bad_kit))
    leaking = [made for made in shop.made if made.job.leak_m3_s]
    done.ask(
        "units with that kit",
        _serials(recalled),
        sorted(made.job.serial for made in leaking),
    )


def _people(done: Audit, store: ShopStore, when: datetime, people: dict[str, str]) -> None:
    """Whose fills creep?"""
    fired = {}
    for person in people:
        question = QualityQuestion(quantity="oil", by=GroupBy.TECHNICIAN, name=person)
        study = study_of(store, question, UnitSystem.METRIC, when, people)
        one_sided = [run for run in study.found.runs if run.last >= len(study.figures) // 2]
        if len(study.figures) > 2:
            fired[person] = len(one_sided)
    done.figures["rules that fired in each one's later half"] = fired
    most = max(fired, key=lambda person: fired[person])
    done.ask("whose fills the charts speak of most", most, CREEPS)


def _chains(done: Audit, store: ShopStore) -> None:
    """Is every chain whole, and does the shop hold all of each bench?"""
    found = status_of(store)
    done.ask("chains that are not well", [c.bench for c in found if not c.well], [])
    done.figures["entries"] = {chain.bench: chain.entries for chain in found}
