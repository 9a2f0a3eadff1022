"""The page People: who may sign here, since when, and what each may change."""

from collections.abc import Mapping, Sequence

from benchstation.bench.commands.enrolment import BENCH, Enrol, ResetPin
from benchstation.bench.commands.table import COMMANDS
from benchstation.bench.session import barred
from benchstation.bench.staff import facts_about_people, leads, people_from
from benchstation.domain.duties import JUDGES, others
from benchstation.domain.events import (
    BadgeRegistered,
    PersonEnrolled,
    PersonLeft,
    PersonPrefers,
    QaConfirmed,
)
from benchstation.domain.inputs.given import YES
from benchstation.domain.people import Person, Role
from benchstation.domain.rebuild import Fact
from benchstation.domain.shop_chain import Subject
from benchstation.quantities.formatter import local_day, local_time
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.task import role_words
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
from benchstation.store.chain_store import ChainStore
from benchstation.store.errors import NotOnRecordError

MOST_PAST = 12
DO, LEAVE = "Return", ActionView("leave", "Cancel", "Esc")
AS_THE_BENCH = (BENCH, "as the bench has it")


def people_rows(store: ChainStore) -> Sequence[ListRow]:
    """Return everyone who was ever enrolled, by name; those who left last."""
    people = people_from(store)
    since = _since(store)
    ordered = sorted(people.values(), key=lambda p: (p.left, p.name.casefold()))
    return [_row(person, since[person.person_id]) for person in ordered]


def open_person(store: ChainStore, key: str, by: Person | None) -> ListDetail:
    """Open a person as ``by``, who is signed in, may see and change it."""
    people = people_from(store)
    person = people.get(key)
    if person is None:
        raise NotOnRecordError("nobody of this name is on record.", where="People")
    # The journal is newer than what the bench's thread showed when this was asked.
    by = people.get(by.person_id) if by is not None else None
    last_lead = leads(people) == {key}
    names = {p.person_id: p.name for p in people.values()}
    past = [e for e in facts_about_people(store) if getattr(e.event, "person_id", "") == key]
    return ListDetail(
        _row(person, _since(store)[key]),
        (_signs_in(person, _qa_words(store, key, names)), _likes(person), _past(past, names)),
        permitted(_actions(person, by, last_lead=last_lead), barred(COMMANDS, by), by_id=True),
        _forms(person, by, people),
        {"person": key},
    )


def _qa_words(store: ChainStore, key: str, names: Mapping[str, str]) -> str:
    """Return who confirmed somebody's QA role or PIN last; empty: it never took that."""
    for entry in reversed(store.entries(kind=QaConfirmed.kind)):
        if isinstance(entry.event, QaConfirmed) and entry.event.person_id == key:
            if entry.event.by:
                return f"confirmed by {names.get(entry.event.by, entry.event.by)}"
            return "first QA of the shop" if entry.event.first else "confirmed by no QA"
    return ""


def _since(store: ChainStore) -> dict[str, str]:
    """Return the day of each one's first enrolment."""
    since: dict[str, str] = {}
    for fact in store.facts(Subject.PERSON):
        if isinstance(fact.event, PersonEnrolled):
            since.setdefault(fact.event.person_id, local_day(fact.utc))
    return since


def _row(person: Person, since: str) -> ListRow:
    ways = [word for word, has in (("PIN", person.pin_hash), ("badge", person.badge_hash)) if has]
    state, tone = " and ".join(ways), Tone.NORMAL
    if person.left:
        state, tone = "left", Tone.QUIET
    elif not ways:
        state, tone = "cannot sign in", Tone.CAUTION
    below = (role_words(person.roles) or "no role", f"since {since}")
    return ListRow(person.person_id, person.name, below, state, tone)


def _signs_in(person: Person, qa: str) -> TermGroup:
    return TermGroup(
        "Signs in",
        (
            TermView("Roles", role_words(person.roles) or "none", qa and f"QA: {qa}"),
            TermView("PIN", "set" if person.pin_hash else "none", "kept as a salted slow hash"),
            TermView("Badge", "registered" if person.badge_hash else "none"),
        ),
    )


def _likes(person: Person) -> TermGroup:
    liked, usual = person.preferences, AS_THE_BENCH[1]
    tone = {None: usual, True: "on", False: "off"}[liked.pour_tone]
    return TermGroup(
        "Preferences",
        (
            TermView("Units", liked.units or usual),
            TermView("Theme", liked.theme or usual),
            TermView("Text size", f"{liked.text_scale} %" if liked.text_scale else usual),
            TermView("Tone at the pour", tone),
        ),
    )


def _past(past: Sequence[Fact], names: Mapping[str, str]) -> TermGroup:
    shown = [e for e in past if not isinstance(e.event, PersonPrefers)]
    terms = [
        TermView(
            local_time(entry.utc),
            _said(entry, shown[:place]),
            f"by {names.get(entry.person, entry.person)}",
        )
        for place, entry in enumerate(shown)
    ]
    return TermGroup("On record", tuple(reversed(terms[-MOST_PAST:])))


def _said(entry: Fact, before: Sequence[Fact]) -> str:
    """Word a fact by what was there before it."""
    event = entry.event
    if isinstance(event, PersonLeft):
        return f"left: {event.reason}"
    if isinstance(event, BadgeRegistered):
        return "badge registered" if event.badge_hash else "badge removed"
    assert isinstance(event, PersonEnrolled)
    roles = role_words(frozenset(Role(role) for role in event.roles))
    facts = [e.event for e in before if isinstance(e.event, PersonEnrolled | PersonLeft)]
    last = facts[-1] if facts else None
    if not isinstance(last, PersonEnrolled):
        return f"enrolled{' again' if facts else ''} as {roles}"
    return f"now {roles}" if last.roles != event.roles else "new PIN"


def _actions(person: Person, by: Person | None, *, last_lead: bool) -> tuple[ActionView, ...]:
    enrol = ActionView("enrol", "Enrol someone", "Ctrl+N")
    if person.left:
        return enrol, ActionView("take_back", "Enrol again", "Ctrl+R")
    why = "the last bench lead stays" if last_lead else ""
    changes = (
        enrol,
        ActionView("change_roles", "Change roles", "Ctrl+R"),
        ActionView(
            "take_off",
            "Mark as left",
            "Ctrl+Delete",
            not why,
            why,
            needs_reason=True,
            needs_pin=True,
        ),
    )
    if by is not None and by.person_id == person.person_id:
        own = (
            ActionView("change_pin", "Change my PIN", "Ctrl+P", primary=True),
            ActionView("register_badge", "Register my badge", "Ctrl+G"),
            ActionView("prefer", "My preferences", "Ctrl+K"),
        )
        return (*own, *_drop(person, ""), *changes)
    pin = ActionView("reset_pin", "New PIN", "Ctrl+P")
    # Whoever may set another's PIN may take another's badge away.
    return (pin, *_drop(person, ResetPin.why_not(by)), *changes)


def _drop(person: Person, why: str) -> tuple[ActionView, ...]:
    if not person.badge_hash:
        return ()
    why = why or ("" if person.pin_hash else "set a PIN first")
    return (ActionView("drop_badge", "Remove the badge", "Ctrl+Backspace", not why, why),)


def _forms(person: Person, by: Person | None, people: Mapping[str, Person]) -> dict[str, TaskView]:
    if by is None:
        return {}
    forms = {}
    if not Enrol.why_not(by):
        forms["enrol"] = _form(
            "enrol",
            "Enrol someone",
            "The new person types a PIN of six digits or more, twice.",
            (
                FieldView("name", "Name", FieldKind.TEXT),
                *_role_fields(None),
                *_twice("new person's PIN"),
                *_qa_fields(people, by, ""),
                YOUR_PIN,
            ),
            "Enrol",
        )
        confirms = _qa_fields(people, by, person.person_id)
        for_pin = _qa_fields(people, by, person.person_id, with_role=False)
        words = "The PIN is typed by the person, not by you."
        forms["reset_pin"] = _form(
            "reset_pin",
            f"New PIN for {person.name}",
            words,
            (*_twice("new PIN"), *(for_pin if person.has(Role.QA) else ()), YOUR_PIN),
            "Set the PIN",
        )
        forms["take_back"] = _form(
            "take_back",
            f"Enrol {person.name} again",
            words,
            (*_role_fields(person), *_twice(f"PIN of {person.name}"), *confirms, YOUR_PIN),
            "Enrol again",
        )
        forms["change_roles"] = _form(
            "change_roles",
            f"Roles of {person.name}",
            "",
            (*_role_fields(person), *(() if person.has(Role.QA) else confirms), YOUR_PIN),
            "Change roles",
        )
    if by.person_id == person.person_id:
        forms["prefer"] = _preferences(person)
        old = FieldView("old", "PIN until now", FieldKind.PIN)
        forms["change_pin"] = _form(
            "change_pin",
            "Change my PIN",
            "Six digits or more, neither all the same nor in counting order.",
            (*((old,) if person.pin_hash else ()), *_twice("new PIN")),
            "Change it",
        )
        forms["register_badge"] = _form(
            "register_badge",
            "Register my badge",
            "Scan it twice. Only a salted slow hash of its text is kept.",
            (
                FieldView("badge", "Scan the badge", FieldKind.PIN),
                FieldView("badge_again", "Scan it once more", FieldKind.PIN),
                YOUR_PIN,
            ),
            "Register it",
        )
    return forms


def _form(name: str, title: str, words: str, fields: tuple[FieldView, ...], do: str) -> TaskView:
    actions = (ActionView(name, do, DO, primary=True), LEAVE)
    return TaskView(name, title, words, fields=fields, actions=actions)


def _qa_fields(
    people: Mapping[str, Person], by: Person, person_id: str, *, with_role: bool = True
) -> tuple[FieldView, ...]:
    """Return what QA fills in to confirm a QA role; nothing where nobody needs to, or can.

    ``with_role``: the form chooses roles, and these fields are there with QA's alone.
    """
    able = others(people, JUDGES, {person_id})
    if not able or by in able:
        return ()
    choices = tuple((one.person_id, one.name) for one in able)
    only = Role.QA.value if with_role else ""
    return (
        FieldView(
            "confirmed_by", "QA who confirms", FieldKind.CHOICE, choices=choices, only_with=only
        ),
        FieldView("confirm_pin", "PIN of that QA", FieldKind.PIN, only_with=only),
    )


def _twice(what: str) -> tuple[FieldView, ...]:
    return (
        FieldView("pin", what[0].upper() + what[1:], FieldKind.PIN),
        FieldView("pin_again", f"The {what} once more", FieldKind.PIN),
    )


def _role_fields(person: Person | None) -> tuple[FieldView, ...]:
    words = {
        Role.TECHNICIAN: "Technician: rebuilds units",
        Role.LEAD: "Bench lead: rebuilds units, enrols people, receives oil, writes specifications",
        Role.QA: "QA: releases, holds or rejects filed units",
    }
    has = person.roles if person is not None else frozenset((Role.TECHNICIAN,))
    return tuple(
        FieldView(role.value, text, FieldKind.CHECK, YES if role in has else "")
        for role, text in words.items()
    )


def _preferences(person: Person) -> TaskView:
    liked = person.preferences
    heard = {None: BENCH, True: "on", False: "off"}[liked.pour_tone]
    sizes = tuple((str(size), f"{size} %") for size in (100, 115, 130, 150))
    rows = (
        (
            "preferred_units",
            "Units",
            liked.units or BENCH,
            tuple((u.value, u.value) for u in UnitSystem),
        ),
        ("theme", "Theme", liked.theme or BENCH, (("dark", "dark"), ("light", "light"))),
        ("text_scale", "Text size", str(liked.text_scale or BENCH), sizes),
        ("pour_tone", "Tone at the pour", heard, (("on", "on"), ("off", "off, alarms only"))),
    )
    return _form(
        "prefer",
        "My preferences",
        "Applied whenever you sign in. What is on record does not change.",
        tuple(
            FieldView(name, text, FieldKind.CHOICE, value, choices=(AS_THE_BENCH, *choices))
            for name, text, value, choices in rows
        ),
        "Save",
    )
