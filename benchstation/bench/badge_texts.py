"""No badge becomes text on record: what is typed is looked through before anything is done with it.

The window takes a scan for what it is; this holds where it could not, such as for a slow scanner.
"""

import hashlib
import re
import secrets
from collections.abc import Iterable, Iterator, Sequence

from benchstation.domain.people import LEAST_BADGE, MOST_BADGE, Person, badge_marked, badge_owner
from benchstation.driver_api.errors import StationError


class BadgeTextError(StationError):
    """Somebody's badge stands where text goes on record."""


class BadgeTexts:
    """Looks for badges in texts. What was tried slowly once and is none is not tried again."""

    def __init__(self) -> None:
        self._key = secrets.token_bytes(32)
        self._none: set[bytes] = set()

    def refuse(self, texts: Iterable[str], people: Iterable[Person], salts: Sequence[str]) -> None:
        """Raise :class:`BadgeTextError` when one of the texts is or holds a badge."""
        having = [person for person in people if person.badge_hash and not person.left]
        if not having or not salts:
            return
        for text in texts:
            for part in parts_of(text):
                marked = badge_marked(having, part, salts)
                if marked and self._is_badge(part, marked, salts):
                    raise BadgeTextError(
                        "somebody's badge stands in what was typed; nothing was recorded.",
                        where="Badge",
                        advice="Take it out, and write the words again. To sign in by badge, "
                        "leave the field first (Esc).",
                    )

    def _is_badge(self, part: str, marked: list[Person], salts: Sequence[str]) -> bool:
        known = "\0".join((part, *(person.badge_hash for person in marked)))
        # Kept under a key of this process: a part may be all of a badge but its first letter.
        trace = hashlib.blake2b(known.encode(), key=self._key, digest_size=16).digest()
        if trace in self._none:
            return False
        if badge_owner(marked, part, salts) is not None:
            return True
        self._none.add(trace)
        return False


def parts_of(text: str) -> Iterator[str]:
    """Return what of a text may be a badge, each once: 6 to 200 characters.

    That is each line, its ends that begin with a word, its words; and because a scan may be joined
    to a word that was begun, every end of a line's last word. A badge in the middle of a word is
    not looked for: it would take a slow hash for one in 256 of all parts of every text.
    """
    seen = set()
    for line in text.splitlines():
        plain = line.strip()
        starts = [match.start() for match in re.finditer(r"\S+", plain)]
        words = plain.split()
        last = words[-1] if words else ""
        ends = (last[place:] for place in range(1, len(last)))
        for part in (*(plain[start:] for start in starts), *words, *ends):
            if LEAST_BADGE <= len(part) <= MOST_BADGE and part not in seen:
                seen.add(part)
                yield part
