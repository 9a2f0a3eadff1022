"""The check of the whole journal: how far it is, and what the last one found."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from benchstation.quantities.formatter import local_time
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.records import CheckView
from benchstation.screens.records.long_work import LongWork
from benchstation.store.chain_store import ChainStore
from benchstation.store.engine import Store
from benchstation.store.errors import StoreCorruptError
from benchstation.store.verification import Verification
from benchstation.store.verifying import Verifier

HASH_SHOWN = 16
ADVICE = "Keep the file as it is, tell QA, and continue with the last backup."


class JournalCheck(LongWork):
    """Checks the journal."""

    begins = "Checking the journal."

    def __init__(self, store: ChainStore, utc: Callable[[], datetime]) -> None:
        super().__init__()
        self.store, self._utc = store, utc

    def run(self) -> str:
        """Check what is new since all was proven, and all the first time; give it in a sentence.

        Raises :class:`StoreCorruptError` when anything does not fit.
        """
        with self._telling("The journal could not be checked"):
            result = self._verified()
        when = local_time(self._utc(), seconds=True)
        self._view = found = self._found(result, when)
        if result.ok or result.stopped:
            return found.words
        raise StoreCorruptError(
            f"the journal is NOT SOUND: {result.problem}",
            where=self.store.where,
            advice=ADVICE,
        )

    def _verified(self) -> Verification:
        store = self.store
        if not isinstance(store, Store) or store.trust is None:
            return store.verify(self.progress, self._stop.is_set)
        known = store.trust.known
        return Verifier(store, known, self._utc).new(self.progress, self._stop.is_set)

    def progress(self, done: int, total: int) -> None:
        """Take note of how far the check is."""
        words = (
            f"Checking the journal: {done} of {total} entries, traces and photographs."
            if done < total
            else "Checking the journal: comparing the searched tables with it."
        )
        self._view = replace(self._view, words=words, share=done / total)

    def _found(self, result: Verification, when: str) -> CheckView:
        head = f"entry {result.entries}, {result.head[:HASH_SHOWN]}..."
        if result.ok:
            words = f"Sound: {result.entries} entries, checked {when}. Head: {head}"
            if result.since is not None:
                whole = local_time(datetime.fromisoformat(result.since.whole_utc))
                words += (
                    f" Read now: what came after entry {result.since.head.size}; all was read "
                    f"{whole} ('benchstation verify --whole' reads all)."
                )
            return CheckView(words, Tone.GOOD)
        if result.stopped:
            words = f"The check was stopped at {head}, {when}. Nothing was wrong up to there."
            return CheckView(words, Tone.CAUTION)
        words = f"NOT SOUND, checked {when}: {result.problem} Read up to {head} {ADVICE}"
        return CheckView(words, Tone.DANGER)
