"""What can be wrong between a bench and the shop although both answer.

StoreError
+-- ForkError               the shop holds another entry under a number of this bench, or more of it
+-- ShopChangedError        the shop's own chain is not the one that this bench read before
"""

from benchstation.store.errors import StoreError


class ForkError(StoreError):
    """The shop holds another entry under a number of this bench's chain, or more than the bench.

    ``there`` and ``given`` are the hashes; ``given`` is empty where the bench has no such entry.
    """

    def __init__(
        self, bench: str, seq: int, there: str, given: str, what: str, advice: str = ""
    ) -> None:
        super().__init__(
            what,
            where=f"entry {seq} of {bench}",
            advice=advice
            or "Nothing was changed on either side, and this bench sends no more. Keep both for "
            "QA; then the bench continues under a new name (benchstation shop join).",
            detail=f"there {there}, here {given or 'none'}",
        )
        self.bench, self.seq, self.there, self.given = bench, seq, there, given


class ShopChangedError(StoreError):
    """The shop's own chain is not the one that this bench read before."""
