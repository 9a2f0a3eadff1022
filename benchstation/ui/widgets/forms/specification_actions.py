"""Which actions the Specifications page offers, and why one is not possible."""

from benchstation.screens.model.elements import ActionView
from benchstation.screens.model.specification_editing import why_not_own
from benchstation.screens.model.specifications import (
    DRAFT,
    SpecificationDetail,
)

READ, WRITE, LEAVE, KEEP = "read", "write", "leave", "keep"
NEW, ANEW, APPROVE, EXAMPLE, TEXT = "new", "anew", "approve", "example", "text"
WRONG_FIRST = "correct what is wrong first"
OPEN_FIRST = "choose a revision first"


def reading_actions(
    opened: SpecificationDetail | None, *, who: str, empty: bool, unkept: bool, approving: bool
) -> tuple[ActionView, ...]:
    """Return the actions while a revision is looked at.

    ``who`` is signed in; ``empty``: none is on record; ``unkept``: a text waits to be written on.
    """
    none = "" if opened is not None else OPEN_FIRST
    why = _why_not_approve(opened, who, approving=approving)
    actions = [
        ActionView(READ, "Read TOML file", "Ctrl+O"),
        ActionView(WRITE, "Write TOML file", "Ctrl+E", not none, none),
        ActionView(
            APPROVE,
            "Approve",
            "Ctrl+Y",
            not why,
            why,
            primary=not why,
            needs_pin=True,
            does="approve",
        ),
    ]
    if empty:
        key, words = "Ctrl+Shift+N" if unkept else "Ctrl+N", "Start from an example"
        actions.append(ActionView(EXAMPLE, words, key, primary=not unkept, does="draft"))
    elif unkept:
        actions.append(ActionView(ANEW, "Start over", "Ctrl+Shift+N", not none, none, does="draft"))
    else:
        actions.append(
            ActionView(NEW, "Write a draft", "Ctrl+N", not none, none, bool(why), does="draft")
        )
    if unkept:
        actions.append(
            ActionView(NEW, "Continue writing", "Ctrl+N", primary=bool(why), does="draft")
        )
    return tuple(actions)


def _why_not_approve(opened: SpecificationDetail | None, who: str, *, approving: bool) -> str:
    if approving:
        return "it is being approved"
    if opened is None or opened.row.state != DRAFT:
        return "open a draft first"
    if opened.problems:
        return WRONG_FIRST
    if opened.not_yet:
        return opened.not_yet
    return why_not_own(opened.row.author, who) if who else ""


def writing_actions(
    problems: tuple[str, ...], *, keeping: bool, form: bool = False
) -> tuple[ActionView, ...]:
    """Return the actions while a draft is written; ``form``: in the form over its text."""
    other = "Text" if form else "Form"
    why = WRONG_FIRST if problems else ""
    why = "it is being saved" if keeping else why
    return (
        ActionView(READ, "Read TOML file", "Ctrl+O"),
        ActionView(WRITE, "Write TOML file", "Ctrl+E"),
        ActionView(TEXT, other, "Ctrl+T"),
        ActionView(LEAVE, "Leave", "Esc"),
        ActionView(KEEP, "Save draft", "Ctrl+S", not why, why, primary=True, does="draft"),
    )
