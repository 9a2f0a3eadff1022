"""Whose first unit is accompanied by words: until it is filed, or until they put the words away."""

from dataclasses import dataclass, field

from benchstation.store.chain_store import ChainStore
from benchstation.store.unit_rows import has_filed


@dataclass(slots=True)
class Guiding:
    """Who is new here. In the demonstration everybody is, until a unit is filed."""

    everybody: bool = False
    _done: set[str] = field(default_factory=set)
    _known: dict[str, bool] = field(default_factory=dict)
    """By person: whether nothing was filed by them when they were first asked about."""

    def is_new(self, store: ChainStore, person_id: str) -> bool:
        """Return True for somebody whose first unit this is; an empty id stands for nobody."""
        if self.everybody or person_id in self._done or not person_id:
            return self.everybody
        if person_id not in self._known:
            self._known[person_id] = not has_filed(store, person_id)
        return self._known[person_id]

    def end(self, person_id: str) -> None:
        """Leave this person without further words, and in the demonstration everybody."""
        self.everybody = False
        self._done.add(person_id)
