"""The Specifications page: revisions and drafts read from the store, a text checked as written."""

from collections.abc import Sequence
from dataclasses import dataclass

from benchstation.bench.staff import people_from
from benchstation.domain.approval import MAKE_IT_YOURS, still_the_example
from benchstation.domain.duties import APPROVERS, NOT_INDEPENDENT, others
from benchstation.domain.events import SpecificationApproved, SpecificationDrafted
from benchstation.domain.shop_chain import ShopFact, Subject
from benchstation.domain.specification import (
    Specification,
    specification_from,
    specification_from_toml,
)
from benchstation.domain.specification_text import as_toml, content_of
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter, local_day
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.specifications import DRAFT, SpecificationDetail, SpecificationRow
from benchstation.screens.specifications.detail import detail
from benchstation.store.engine import Store
from benchstation.store.errors import NotOnRecordError


@dataclass(frozen=True, slots=True)
class Specifications:
    """Answers the page. Every method may take a while and is called in one thread."""

    store: Store

    def rows(self) -> Sequence[SpecificationRow]:
        """Return open drafts and all revisions, by family, the newest first."""
        approved = self._approved()
        newest = dict(sorted(approved))
        rows = [self._row(entry, newest) for entry in approved.values()]
        rows += [
            self._draft_row(entry)
            for (key, n), entry in self.store.drafts().items()
            if n > newest.get(key, 0)
        ]
        return sorted(rows, key=lambda row: (row.family, -row.revision, row.state != DRAFT))

    def open(
        self, key: str, travel: float, at: str, words: QuantityFormatter
    ) -> SpecificationDetail:
        """Open one by its key."""
        state, _, rest = key.partition(":")
        name, _, number = rest.partition("/")
        wanted = (name, int(number or 0))
        found = self.store.drafts() if state == DRAFT else self._approved()
        if wanted not in found:
            raise NotOnRecordError("no such specification is on record.", where=key)
        entry = found[wanted]
        event = entry.event
        if isinstance(event, SpecificationDrafted):
            return self.check(event.source, travel, at, words, self._draft_row(entry))
        assert isinstance(event, SpecificationApproved)
        specification = specification_from(event.content)
        newest = dict(sorted(self._approved()))
        row = self._row(entry, newest)
        source = event.source or as_toml(specification)
        before = self._specification((wanted[0], wanted[1] - 1))
        return detail(row, source, specification, before, travel, at, words)

    def check(
        self,
        source: str,
        travel: float,
        at: str,
        words: QuantityFormatter,
        row: SpecificationRow | None = None,
    ) -> SpecificationDetail:
        """Check a text; what is wrong comes back as words."""
        try:
            specification = specification_from_toml(source, where="draft", words=words)
        except StationError as error:
            problem = f"{error.what} {error.advice}".strip()
            unknown = row or SpecificationRow("", "", "", 0, DRAFT, Tone.CAUTION, "")
            return SpecificationDetail(unknown, source, (problem,))
        s = specification
        row = row or SpecificationRow("", s.family, s.title, s.revision, DRAFT, Tone.QUIET, "")
        newest = max((n for key, n in self._approved() if key == s.id), default=0)
        before = self._specification((s.id, newest))
        problems: tuple[str, ...] = ()
        if s.revision != newest + 1:
            said = f"the text says {s.revision}"
            problems = (f"The next revision of {s.id} is {newest + 1}; {said}.",)
        example = "" if newest else still_the_example(s)
        if example:
            problems = (f"{example[0].upper()}{example[1:]}. {MAKE_IT_YOURS}", *problems)
        shown = detail(row, source, s, before, travel, at, words)
        return SpecificationDetail(
            row, source, problems, shown.groups, shown.drawing, shown.curves, shown.changes
        )

    def _approved(self) -> dict[tuple[str, int], ShopFact]:
        found = {}
        for fact in self.store.facts(Subject.SPECIFICATION):
            event = fact.event
            if isinstance(event, SpecificationApproved):
                found[event.specification_id, event.revision] = fact
        return found

    def _specification(self, key: tuple[str, int]) -> Specification | None:
        approved = self.store.specifications().get(key)
        return specification_from(approved.content) if approved else None

    def _name(self, person_id: str) -> str:
        person = self.store.people().get(person_id)
        return person.name if person else person_id

    def _row(self, entry: ShopFact, newest: dict[str, int]) -> SpecificationRow:
        event = entry.event
        assert isinstance(event, SpecificationApproved)
        current = newest.get(event.specification_id) == event.revision
        drafted = self.store.drafts().get((event.specification_id, event.revision))
        alone = drafted is not None and drafted.person == entry.person
        good = Tone.CAUTION if alone else Tone.GOOD
        return SpecificationRow(
            f"approved:{event.specification_id}/{event.revision}",
            event.family,
            event.title,
            event.revision,
            "in force" if current else "older",
            good if current else Tone.QUIET,
            f"{self._name(entry.person)}, {local_day(entry.utc)}"
            + (f", {NOT_INDEPENDENT}" if alone else ""),
        )

    def _draft_row(self, entry: ShopFact) -> SpecificationRow:
        event = entry.event
        assert isinstance(event, SpecificationDrafted)
        # A draft of before a rule was made is listed all the same; what it breaks is said inside.
        content = content_of(event.source)
        family, title = (str(content.get(name, "")) for name in ("family", "title"))
        return SpecificationRow(
            f"{DRAFT}:{event.specification_id}/{event.revision}",
            family or event.specification_id,
            title,
            event.revision,
            DRAFT,
            Tone.CAUTION,
            f"{self._name(entry.person)}, {local_day(entry.utc)}",
            # Where nobody else could approve it, the author signs twice.
            entry.person if others(people_from(self.store), APPROVERS, {entry.person}) else "",
        )
