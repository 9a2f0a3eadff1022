"""The Specifications page: revisions and drafts read from the store, a text checked as written."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from benchstation.bench.staff import people_from
from benchstation.domain.approval import how_then, not_the_next, why_not_yet
from benchstation.domain.duties import APPROVERS, NOT_INDEPENDENT, others
from benchstation.domain.events import SpecificationApproved, SpecificationDrafted
from benchstation.domain.example_marks import still_example
from benchstation.domain.shop_chain import ShopFact, Subject
from benchstation.domain.specification import (
    Specification,
    judged,
    specification_from,
)
from benchstation.domain.specification_text import as_toml, content_of
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter, local_day
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.specifications import (
    DRAFT,
    SheetPart,
    SpecificationDetail,
    SpecificationRow,
)
from benchstation.screens.specifications.changes import changes
from benchstation.screens.specifications.detail import beside, detail
from benchstation.screens.specifications.sheet import Judged, by_field, sheet
from benchstation.screens.specifications.whole import whole
from benchstation.store.chain_store import ChainStore
from benchstation.store.errors import NotOnRecordError


@dataclass(frozen=True, slots=True)
class Specifications:
    """Answers the page. Every method may take a while and is called in one thread."""

    store: ChainStore

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
        known = Judged(words, follows=specification.follows())
        parts = sheet(content_of(source), known)
        changed = self._changes(before, parts, words)
        return replace(
            detail(row, source, specification, travel, at, words),
            sheet=parts,
            changes=changed,
            whole=whole(parts, changed),
        )

    def check(
        self,
        source: str,
        travel: float,
        at: str,
        words: QuantityFormatter,
        row: SpecificationRow | None = None,
    ) -> SpecificationDetail:
        """Check a text by the rules of its taking; what is wrong stands at its field too."""
        unknown = row or SpecificationRow("", "", "", 0, DRAFT, Tone.CAUTION, "")
        try:
            content = content_of(source)
        except ValueError as error:
            said = f"This is not TOML: {error}. Correct the text at that place."
            return SpecificationDetail(unknown, source, (said,))
        s, problems = judged(content, words)
        before = self._newest(str(content.get("id", "")))
        if s is not None:
            problems += not_the_next(s, self._approved())
        said_of = tuple(f"{p.words} {p.advice}".strip() for p in problems)
        known = Judged(
            words,
            by_field(problems),
            s.follows() if s is not None else None,
            beside(s, words) if s is not None else {},
            still_example(content),
        )
        parts = sheet(content, known)
        if s is None:
            return SpecificationDetail(unknown, source, said_of, sheet=parts)
        row = row or SpecificationRow("", s.family, s.title, s.revision, DRAFT, Tone.QUIET, "")
        why = why_not_yet(content, s)
        try:
            shown = detail(row, source, s, travel, at, words)
        except StationError:
            # With this fill or charge nothing can be computed; the problems say which.
            return SpecificationDetail(row, source, said_of, sheet=parts)
        changed = self._changes(before, parts, words)
        return replace(
            shown,
            problems=said_of,
            sheet=parts,
            changes=changed,
            whole=whole(parts, changed),
            not_yet=f"{why}. {how_then(content)}" if why else "",
        )

    def _newest(self, name: str) -> Specification | None:
        newest = max((n for key, n in self._approved() if key == name), default=0)
        return self._specification((name, newest))

    @staticmethod
    def _changes(
        before: Specification | None, parts: tuple[SheetPart, ...], words: QuantityFormatter
    ) -> tuple[tuple[str, str, str], ...]:
        if before is None:
            return ()
        return changes(sheet(before.content(), Judged(words)), parts)

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
        good = Tone.CAUTION if alone else Tone.NORMAL
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
