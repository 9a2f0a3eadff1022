"""Whether another instrument may be fitted now; ``refitting`` does it."""

from collections.abc import Mapping

from benchstation.domain.unit_commands import NotAllowedError
from benchstation.bench.session import Desk


def may_fit(desk: Desk, fields: Mapping[str, str]) -> str:
    """Raise while a unit is on the bench."""
    if desk.rebuild is not None and not desk.rebuild.ended:
        raise NotAllowedError(
            f"{desk.rebuild.opened.serial} is on the bench.",
            advice="File or abandon it first: its evidence rests on the instruments it has.",
        )
    return ""
