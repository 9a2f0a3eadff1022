"""What a finished unit still lacks before it is filed, besides its evidence."""

from benchstation.domain.can_lots import why_unconfirmed
from benchstation.domain.gas_mass import missing_proof
from benchstation.domain.rebuild import Rebuild


def missing_at_filing(rebuild: Rebuild) -> str:
    """Return what is missing; empty: nothing. A deviation signed at the last step accepts it."""
    return missing_proof(rebuild) or why_unconfirmed(rebuild)
