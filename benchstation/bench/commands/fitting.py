"""Whether another instrument may be fitted now; ``refitting`` does it."""

from collections.abc import Mapping

from benchstation.bench.session import BenchSession
from benchstation.domain.unit_commands import NotAllowedError


def may_fit(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Raise while a unit is on the bench."""
    if session.rebuild is not None and not session.rebuild.ended:
        raise NotAllowedError(
            f"{session.rebuild.opened.serial} is on the bench.",
            advice="File or abandon it first: its evidence rests on the instruments it has.",
        )
    return ""
