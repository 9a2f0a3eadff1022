"""The page To settle: where two said different things of one, both versions, and what may be done.

A bench shows what it knows of; it is settled at the shop's desk, by who has seen both.
"""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass

from benchstation.bench.commands.settling import why_not_here
from benchstation.bench.commands.table import COMMANDS
from benchstation.bench.session import barred
from benchstation.domain.events import Event, Settled, UnitAmended, UnitDisposed
from benchstation.domain.people import Person
from benchstation.domain.shop_chain import (
    SHOP,
    Conflict,
    Decision,
    ShopFact,
    Typed,
    decisions_for,
    fact_in,
    typed_for,
)
from benchstation.quantities.formatter import QuantityFormatter, local_time
from benchstation.screens.model.elements import (
    YOUR_PIN,
    ActionView,
    FieldKind,
    FieldView,
    TaskView,
    TermGroup,
    TermView,
    Tone,
    permitted,
)
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.screens.settling.versions import kind_of, terms_of, title_of
from benchstation.store.chain_store import ChainStore
from benchstation.store.errors import NotOnRecordError
from benchstation.store.queries import get_unit

LEAVE = ActionView("leave", "Cancel", "Esc")
ACTS: Mapping[Decision, tuple[str, str, str]] = {
    Decision.SHOP: ("settle_shop", "Keep the shop's", "Ctrl+K"),
    Decision.BENCH: ("settle_bench", "Put the bench's in force", "Ctrl+B"),
    Decision.BOTH: ("settle_both", "Keep both", "Ctrl+O"),
}
LABELS: Mapping[Typed, str] = {
    Typed.LOT: "Number of the bench's lot from now on",
    Typed.ORDER: "Name of the bench's order from now on",
}
BOTH_WORDS: Mapping[Typed, str] = {
    Typed.LOT: "What was used of either stays on record. Put the new number on the can or box.",
    Typed.ORDER: "Its units go with it.",
    Typed.NOTHING: "",
}


@dataclass(frozen=True, slots=True)
class Settling:
    """Answers the page. Every method may take a while and is called in one thread."""

    store: ChainStore

    def rows(self) -> Sequence[ListRow]:
        """Return what waits, the oldest first."""
        names = self._names()
        return [self._row(conflict, names) for conflict in self.store.conflicts()]

    def open(self, key: str, by: Person | None, words: QuantityFormatter) -> ListDetail:
        """Open one, as ``by``, who is signed in, may settle it."""
        found = next((c for c in self.store.conflicts() if str(c.seq) == key), None)
        if found is None:
            raise NotOnRecordError("it is settled.", where="To settle", advice="Look at the list.")
        names = self._names()
        entry = self.store.shop_entry(found.in_force)
        against = fact_in(entry) if entry is not None else None
        groups = [
            *((self._version("The shop has", against, names, words),) if against else ()),
            self._version(f"{found.fact.bench} has", found.fact, names, words),
            self._in_force(found, against),
        ]
        event = found.fact.event
        return ListDetail(
            self._row(found, names),
            tuple(groups),
            self._actions(event, by),
            _forms(event),
            {"conflict": key},
            _lines(found),
        )

    def _names(self) -> dict[str, str]:
        return {key: person.name for key, person in self.store.people().items()}

    def _row(self, conflict: Conflict, names: Mapping[str, str]) -> ListRow:
        fact = conflict.fact
        said = f"{kind_of(fact.event)} at {fact.bench} by {names.get(fact.person, fact.person)}"
        return ListRow(
            str(conflict.seq),
            self._title(fact.event, names),
            (said,),
            "to settle",
            Tone.CAUTION,
            note="in force until then" if conflict.counts else "not in force until then",
        )

    def _title(self, event: Event, names: Mapping[str, str]) -> str:
        if isinstance(event, UnitDisposed | UnitAmended):
            what = "QA's word on" if isinstance(event, UnitDisposed) else "Amendment of"
            with suppress(NotOnRecordError):
                return f"{what} {get_unit(self.store, event.unit_id).serial}"
        person = getattr(event, "person_id", "")
        return names.get(person, person) if person else title_of(event)

    def _version(
        self, title: str, fact: ShopFact, names: Mapping[str, str], words: QuantityFormatter
    ) -> TermGroup:
        event = fact.event
        who = names.get(fact.person, fact.person)
        where = "the shop's desk" if fact.bench == SHOP else fact.bench
        said = TermView(
            kind_of(event).capitalize(), f"by {who}", f"{where}, {local_time(fact.utc)}"
        )
        if isinstance(event, Settled):
            return TermGroup(title, (said, TermView("Reason", event.reason)))
        return TermGroup(title, (said, *terms_of(event, words)))

    def _in_force(self, conflict: Conflict, against: ShopFact | None) -> TermGroup:
        bench = conflict.fact.bench
        if not conflict.counts:
            now, why = "the shop's version", f"nothing of {bench}'s counts until it is settled"
        else:
            now, why = f"{bench}'s version", "what takes something away is in force at once"
        still = self.store.facts_about(conflict.subject)
        last = still[-1] if still else None
        if last is not None and last.seq not in (conflict.seq, conflict.in_force):
            now, why = kind_of(last.event), "said later, or stricter than both"
        return TermGroup("In force now", (TermView("In force", now, why, strong=True),))

    def _actions(self, event: Event, by: Person | None) -> tuple[ActionView, ...]:
        why = why_not_here(self.store, by, event)
        acts = []
        for decision in decisions_for(event):
            name, label, key = ACTS[decision]
            form = decision is Decision.BOTH and typed_for(event) is not Typed.NOTHING
            signed = not form
            acts.append(
                ActionView(name, label, key, not why, why, needs_reason=signed, needs_pin=signed)
            )
        return permitted(tuple(acts), barred(COMMANDS, by), by_id=True)


def _lines(conflict: Conflict) -> tuple[tuple[str, Tone], ...]:
    bench = conflict.fact.bench
    said = f"{bench} did not know what the shop had said when it said this. Look at both."
    return ((said, Tone.CAUTION),)


def _forms(event: Event) -> dict[str, TaskView]:
    typed = typed_for(event)
    if Decision.BOTH not in decisions_for(event) or typed is Typed.NOTHING:
        return {}
    fields = (
        FieldView("other", LABELS[typed], FieldKind.TEXT),
        FieldView("reason", "Reason", FieldKind.TEXT),
        YOUR_PIN,
    )
    name = ACTS[Decision.BOTH][0]
    acts = (ActionView(name, "Keep both", "Return", primary=True), LEAVE)
    return {name: TaskView(name, "Keep both", BOTH_WORDS[typed], fields=fields, actions=acts)}
