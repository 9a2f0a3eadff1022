"""One person alone signs twice, with a pause between, what takes two where there are two."""

from benchstation.bench.session import BenchSession
from benchstation.domain.events import SignedOnce
from benchstation.quantities.formatter import seconds
from benchstation.store.newest import newest_entries

COUNTS_FOR_S = 7 * 86400.0
"""A first signature that is older does not count."""
MOST = 200


def sign_twice(session: BenchSession, act: str, subject: str) -> str:
    """Return in words what is missing of two signatures; empty: this is the second, in its time.

    ``subject`` names what is signed, its content too: what was changed since is signed anew.
    """
    assert session.person is not None
    pause_s, now = session.settings.now.second_signature_after_s, session.clock.utc()
    ages = [
        (now - entry.utc).total_seconds()
        for entry in newest_entries(session.store, (SignedOnce.kind,), MOST)
        if entry.event == SignedOnce(session.person.person_id, act, subject)
    ]
    counting = [age for age in ages if 0.0 <= age <= COUNTS_FOR_S]
    if not counting:
        session.journal([SignedOnce(session.person.person_id, act, subject)])
        return (
            f"Signed once. Nobody else can sign it: look at it again and sign in "
            f"{seconds(pause_s)}. It counts as not independent."
        )
    left_s = pause_s - max(counting)
    return f"Signed once already: sign again in {seconds(left_s)}." if left_s > 0 else ""
