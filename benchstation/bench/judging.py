"""What is wrong with a form while it is typed: its command is asked, and nothing is done.

The rules are those of the taking: a command's ``wrong`` tries the parts that its call is made of.
"""

from collections.abc import Callable, Iterator, Mapping

from benchstation.bench.commands.parsing import command_as_typed
from benchstation.bench.session import BenchSession
from benchstation.driver_api.errors import StationError


def tried(*checks: Callable[[], object]) -> Iterator[StationError]:
    """Return what each of these checks is refused for; what is in order gives nothing."""
    for check in checks:
        try:
            check()
        except StationError as error:
            yield error


def wrong_fields(session: BenchSession, action: str, form: Mapping[str, str]) -> dict[str, str]:
    """Return what is wrong with a form's fields, by field, in words that stand beside it."""
    kind = session.commands.get(action)
    if kind is None:
        return {}
    command, unread = command_as_typed(kind, form)
    found = {name: _in_words(error) for name, error in unread.items()}
    for error in command.wrong(session) if command is not None else ():
        if error.field:
            found.setdefault(error.field.rpartition(".")[2], _in_words(error))
    return found


def _in_words(error: StationError) -> str:
    """Return what is so and what to do; where it is, its place says."""
    return f"{error.what} {error.advice}".strip()
