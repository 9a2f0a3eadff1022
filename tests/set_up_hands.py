"""A lead at the terminal who confirms what a set-up changes, and signs it."""

import builtins
import getpass
import sys

LEAD, PIN = "second", "864209"
"""Of the example of a set-up file."""


def lead_at_terminal(monkeypatch, *, answer: str = "y", person: str = LEAD, pin: str = PIN):
    """Answer each question so from now on; gives the list of what was asked."""
    asked: list[str] = []

    def reply(prompt: str) -> str:
        asked.append(prompt)
        if prompt.startswith("The lead"):
            return person
        return "new parts" if prompt.startswith("Why") else answer

    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(builtins, "input", reply)
    monkeypatch.setattr(getpass, "getpass", lambda prompt: pin)
    return asked
