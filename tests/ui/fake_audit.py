"""A page of the audit trail as a station would give it, without records."""

from benchstation.screens.model.audit import AuditView
from benchstation.screens.model.elements import TermGroup, TermView, Tone
from benchstation.screens.model.lists import ListDetail, ListRow

SAID = (
    ("QA's word", "QA released, because seen", "Jana Lead", Tone.QUIET),
    ("Unit deviation", "charge read by hand, because the gauge was lost", "Jana Lead",
     Tone.CAUTION),
    ("Step signed", "step seal off", "Technician 12", Tone.QUIET),
    ("Alarm changed", "alarm high limit, state active", "the station", Tone.CAUTION),
    ("Person signed in", "how PIN, person Technician 12", "Technician 12", Tone.QUIET),
)  # fmt: skip


def rows(start):
    """Return rows down from a number."""
    return tuple(
        ListRow(f"bench-2 {start - n}", title, (f"2026-11-25 14:{50 - n} CET", says),
                f"bench-2 {start - n}", tone, who)
        for n, (title, says, who, tone) in enumerate(SAID)
    )  # fmt: skip


def find(text, before):
    """Return two pages; of some words none."""
    if text == "none":
        return AuditView((), "No kind of entry is called “none”.", "")
    return AuditView(rows(200 if before else 300), f"Shown: {text}." if text else "",
                     "" if before else "older")  # fmt: skip


def entry(key):
    """Return one entry, open."""
    row = next(row for row in (*rows(300), *rows(200)) if row.key == key)
    return ListDetail(row, (TermGroup("On record", (TermView("Chain", key),)),))
