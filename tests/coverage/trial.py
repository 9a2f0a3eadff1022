"""One measurement whose truth is known, and what many of them come to."""

from collections.abc import Sequence
from dataclasses import dataclass

from benchstation.metrology.conformity import Decision


@dataclass(frozen=True, slots=True)
class Trial:
    """How far off a result was, what was stated of it, and what was decided on which truth."""

    error: float
    expanded: float
    u: float
    decision: Decision
    conforms: bool
    seconds: float = 0.0
    """How long a person waited for it."""

    @property
    def covered(self) -> bool:
        """Return True when the truth lies within the stated interval."""
        return abs(self.error) <= self.expanded


@dataclass(frozen=True, slots=True)
class Outcome:
    """Shares over many trials: covered; of those that passed and failed, wrongly."""

    covered: float
    wrong_pass: float
    wrong_fail: float
    count: int
    error: float
    """Root mean square."""
    u: float
    """Root mean square of what was stated."""
    seconds: float = 0.0
    """The longest wait."""
    failed: int = 0

    def line(self, scene: object) -> str:
        """Return its line of the table; errors and u in parts of the unit given."""
        return (
            f"{scene!s:62} {self.count:5d} {self.covered:7.1%} {self.wrong_pass:7.1%} "
            f"{self.wrong_fail:7.1%} {self.error:11.4g} {self.u:11.4g} {self.seconds:5.0f}"
        )


HEADING = f"{'scenario':62} {'runs':>5} {'cover':>7} {'wrongly':>7} {'wrongly':>7}\n{'':69}" + (
    f"{'':7}{'passed':>8}{'failed':>8} {'rms error':>11} {'rms u':>11} {'wait':>5}"
)


def outcome(trials: Sequence[Trial]) -> Outcome:
    """Return what many trials of a scene come to."""
    passed = [t for t in trials if t.decision is Decision.PASS]
    failed = [t for t in trials if t.decision is Decision.FAIL]
    n = len(trials)
    return Outcome(
        sum(t.covered for t in trials) / n,
        sum(not t.conforms for t in passed) / max(len(passed), 1),
        sum(t.conforms for t in failed) / max(len(failed), 1),
        n,
        (sum(t.error**2 for t in trials) / n) ** 0.5,
        (sum(t.u**2 for t in trials) / n) ** 0.5,
        max(t.seconds for t in trials),
        len(failed),
    )
