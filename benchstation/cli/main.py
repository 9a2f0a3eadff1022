"""The commands of the bench station.

A command loads what it needs when it is named: a version or a help text waits for no database.
"""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn, TypeAlias

from benchstation import __version__
from benchstation.atomic_file import keep_private
from benchstation.driver_api.errors import StationError

NOT_IN_ORDER = 1
BAD_INPUT = 2
NO_COMMAND = "Without a command the window opens on this bench."


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        """Refuse in one line; the usage is a ``--help`` away."""
        self.exit(BAD_INPUT, f"{self.prog}: {message}; see '{self.prog} --help'\n")


Commands: TypeAlias = "argparse._SubParsersAction[_Parser]"  # noqa: SLF001 - named so there


def _parser(given: Sequence[str]) -> argparse.ArgumentParser:
    """Return the parser; commands with many options declare them only when they are named."""
    parser = _Parser(
        prog="benchstation",
        description="Bench station for rebuilding gas-charged monotube dampers. "
        "It watches and warns; it is not a safety device.",
    )
    parser.add_argument("--version", action="version", version=f"benchstation {__version__}")
    commands = parser.add_subparsers(dest="command", title="commands", description=NO_COMMAND)

    _add_played(commands)
    _add_of_the_bench(commands, given)
    _add_verify(commands)
    _add_kept(commands)

    shop = commands.add_parser("shop", help="several benches, one PostgreSQL for the shop")
    if "shop" in given:
        from benchstation.cli.shop import add_commands as add_shop_commands

        add_shop_commands(shop)

    computed = commands.add_parser("calc", help="a figure of the bench, with its working")
    if "calc" in given:
        from benchstation.cli.calc import add_commands as add_sheets

        add_sheets(computed, given)

    checked = commands.add_parser("check-specification", help="check a specification file")
    checked.add_argument("file", type=Path)
    return parser


def _add_played(commands: Commands) -> None:
    """Declare what runs on virtual devices."""
    shown = commands.add_parser("demo", help="the window on virtual devices and an invented shop")
    shown.add_argument(
        "--benches",
        type=int,
        choices=range(1, 6),
        help="so many benches and their shop, with a PostgreSQL that is thrown away",
    )
    shown.add_argument("--bench-at", type=Path, help=argparse.SUPPRESS)
    shown.add_argument("--past", type=int, help=argparse.SUPPRESS)
    rehearsed = commands.add_parser(
        "rehearse", help="a whole rebuild on virtual devices, without a screen"
    )
    rehearsed.add_argument("--fast", action="store_true", help="at most 10 s")
    rehearsed.add_argument("--seed", type=int, default=1, help="fixes the virtual hand (1)")
    rehearsed.add_argument("--json", action="store_true", help="the summary for programs, SI")
    rehearsed.add_argument(
        "--folder", type=Path, default=Path(), help="where record.json and record.pdf go (here)"
    )
    rehearsed.add_argument(
        "--data", type=Path, help="keep the journal in this folder, and continue with its open unit"
    )
    rehearsed.add_argument(
        "--faults", action="store_true", help="list the faults that can be played, a name a line"
    )
    rehearsed.add_argument("--fault", metavar="NAME", help="play one; 0: the station caught it")


def _add_of_the_bench(commands: Commands, given: Sequence[str]) -> None:
    """Declare what sets up the bench and its instruments."""
    menu = commands.add_parser(
        "desktop-entry", help="put the window into your applications menu (Linux)"
    )
    menu.add_argument("--remove", action="store_true", help="take it out again")

    bench = commands.add_parser("set-up", help="set up this bench from a file")
    bench.add_argument("file", type=Path, nargs="?")
    bench.add_argument("--example", action="store_true", help="print a file to start from")
    bench.add_argument("--person", help="on a founded bench: the lead who signs")
    bench.add_argument("--reason", help="on a founded bench: why; stands on record")
    listed = commands.add_parser("profiles", help="list the device profiles, or print one to copy")
    listed.add_argument("id", nargs="?", help="the one to print")
    listed.add_argument("--profiles", type=Path, help="a further folder with profiles")
    devices = commands.add_parser("devices", help="ports, live lines, recordings, new instruments")
    if "devices" in given:
        from benchstation.cli.devices import add_commands as add_device_commands

        add_device_commands(devices)


def _add_verify(commands: Commands) -> None:
    """Declare what checks records and exports."""
    verified = commands.add_parser("verify", help="check the journal's chain, records and traces")
    verified.add_argument(
        "file",
        type=Path,
        nargs="?",
        help="records (those of this bench), or one exported record as JSON or PDF",
    )
    verified.add_argument(
        "--journal",
        type=Path,
        help="the records it is of, where they are not this bench's",
    )
    verified.add_argument(
        "--key", help="the bench's public key, which an exported record must be signed with"
    )
    verified.add_argument(
        "--whole", action="store_true", help="read all again, not only what came since it was sound"
    )
    verified.add_argument(
        "--anchor",
        help="ENTRY:HASH as printed on a paper record, to hold against the file; "
        "the first 16 characters of the hash do",
    )


def _add_kept(commands: Commands) -> None:
    """Declare what copies, writes out and moves the records."""
    copied = commands.add_parser("backup", help="write a checked copy of this bench's records")
    copied.add_argument("folder", type=Path)
    put_back = commands.add_parser("restore", help="put a copy in the place of the records")
    put_back.add_argument(
        "copy", type=Path, nargs="?", help="the folder of the copies (its newest), or one"
    )
    put_back.add_argument(
        "--shop",
        nargs="?",
        const="",
        metavar="URL",
        help="what the shop holds of this bench and the file lacks; URL where it is not joined yet",
    )
    everything = commands.add_parser(
        "export-all", help="write all records into a folder, readable without this program"
    )
    everything.add_argument("folder", type=Path)
    everything.add_argument("--pdf", action="store_true", help="the certificate of each unit too")
    found = commands.add_parser(
        "list", help="write all that a search of the records finds: CSV and PDF, or JSON lines"
    )
    found.add_argument("folder", type=Path)
    found.add_argument(
        "question", nargs="?", default="", help="as typed on Records: 'from:2026-11 qa:released'"
    )
    found.add_argument(
        "--records", action="store_true", help="the whole record of each filed unit, a line each"
    )
    moved = commands.add_parser(
        "move", help="move this bench to another computer: it is closed here, a lead signs"
    )
    moved.add_argument("folder", type=Path, help="where all of it is written, or lies")
    moved.add_argument("--take", action="store_true", help="on the new computer: take it over")
    moved.add_argument("--person", default="", help="the lead's name in the records")
    moved.add_argument("--reason", default="", help="why; stands on record")
    for name, words in (
        ("accept-loss", "continue with records that lack entries which were signed"),
        ("new-key", "continue with another key: the computer or its key was lost or changed"),
    ):
        accepted = commands.add_parser(name, help=f"{words}; a lead signs")
        accepted.add_argument("--person", required=True, help="the lead's name in the records")
        accepted.add_argument("--reason", required=True, help="what happened; stands on record")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; 0: all is well, 1: a rehearsal was not in order, 2: it cannot be done."""
    keep_private()
    given = list(sys.argv[1:] if arguments is None else arguments)
    if "calc" in given:
        from benchstation.cli.calc.given import joined

        given = joined(given)
    options = _parser(given).parse_args(given)
    try:
        match options.command:
            case None:
                return _bench()
            case "demo":
                return _demo(options)
            case "rehearse":
                return _rehearse(options)
            case "desktop-entry":
                from benchstation.cli.desktop_entry import remove_entry, write_entry

                print(*(remove_entry() if options.remove else write_entry()), sep="\n")
                return 0
            case "set-up":
                return _set_up(options)
            case "profiles":
                return _profiles(options.id, options.profiles)
            case "devices":
                from benchstation.cli.devices import run

                return run(options)
            case "verify":
                from benchstation.cli.verify import verify

                found = verify(options)
                if found.caution:
                    print(found.caution, file=sys.stderr)
                print(found.words, file=sys.stdout if found.sound else sys.stderr)
                return 0 if found.sound else NOT_IN_ORDER
            case "backup":
                from benchstation.cli.trust import back_up

                print(back_up(options.folder))
                return 0
            case "move":
                from benchstation.cli.move import move_bench, take_bench

                print(take_bench(options.folder) if options.take else move_bench(options))
                return 0
            case "export-all":
                from benchstation.cli.export_all import export

                print(export(options.folder, _Progress(), pdf=options.pdf))
                return 0
            case "list":
                from benchstation.cli.unit_list import list_units

                print(list_units(options.question, options.folder, records=options.records))
                return 0
            case "restore":
                print(_restored(options))
                return 0
            case "accept-loss" | "new-key":
                from benchstation.cli.trust import accept

                print(accept(options))
                return 0
            case "shop":
                from benchstation.cli.shop import run as run_shop

                said, code = run_shop(options)
                print(said)
                return code
            case "calc":
                return _calc(options)
            case _:
                return _check_specification(options.file)
    except StationError as error:
        print(f"benchstation: {error}", file=sys.stderr)
        return BAD_INPUT


def _bench() -> int:
    from benchstation.app import run_bench
    from benchstation.config.settings import load_settings

    return run_bench(load_settings())


def _demo(options: argparse.Namespace) -> int:
    from benchstation.app import run_demo, run_demo_bench, run_demo_shop

    if options.bench_at is not None:
        return run_demo_bench(options.bench_at)
    if options.past is not None:
        return _make_past(options.past)
    if options.benches is not None:
        progress = _Progress()
        return run_demo_shop(options.benches, lambda n, of: progress("benches", n + 1, of))
    return run_demo()


def _make_past(units: int) -> int:
    """Make the demonstration's past for a window that runs already; it reads how far this is."""
    import os
    from datetime import UTC, datetime

    from benchstation.demo.history import history_file

    try:
        history_file(datetime.now(UTC).date(), units, lambda done, total: print(done, flush=True))
    except BrokenPipeError:
        # The window is gone. What was not written yet must not be tried again at the end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return NOT_IN_ORDER
    return 0


def _set_up(options: argparse.Namespace) -> int:
    from benchstation.cli.set_up import run

    return run(options, print)


def _profiles(wanted: str | None, also: Path | None) -> int:
    from benchstation.config.settings import profile_folders
    from benchstation.devices.profile import load_profile, profile_ids, profile_text

    own = profile_folders(also)
    if wanted is not None:
        print(profile_text(wanted, own), end="")
        return 0
    for profile_id in profile_ids(own):
        try:
            profile = load_profile(profile_id, own)
        except StationError as error:
            print(f"{profile_id:<30}{'-':<12}{error.what}")
            continue
        print(f"{profile.id:<30}{profile.kind:<12}{profile.title}")
    return 0


def _restored(options: argparse.Namespace) -> str:
    if (options.shop is None) == (options.copy is None):
        raise StationError(
            "name a folder of copies or one copy, or give --shop, and not both.",
            where="restore",
            advice="Nothing was changed.",
        )
    if options.shop is not None:
        from benchstation.cli.shop import restored_from_shop

        return restored_from_shop(options.shop)
    from benchstation.cli.trust import put_back

    return put_back(options.copy)


def _rehearse(options: argparse.Namespace) -> int:
    import tempfile

    if options.faults or options.fault is not None:
        return _rehearse_fault(options)
    from benchstation.cli.trust import trust_for
    from benchstation.crash import prepare_process
    from benchstation.demo import rehearse

    prepare_process()
    progress = _Progress()
    pace = rehearse.FAST_PACE if options.fast else rehearse.NORMAL_PACE
    with tempfile.TemporaryDirectory(prefix="benchstation-") as scratch:
        data = options.data or Path(scratch)
        try:
            trust = trust_for(options.data, Path(scratch))
            run = rehearse.Rehearsal(data, options.folder, options.seed, pace, progress, trust)
            summary = run.run()
        finally:
            progress.end()
    lines = [rehearse.as_json(summary)] if options.json else list(rehearse.as_text(summary))
    print("\n".join(lines))
    return 0 if summary.ok else NOT_IN_ORDER


def _rehearse_fault(options: argparse.Namespace) -> int:
    import tempfile

    from benchstation.crash import prepare_process
    from benchstation.demo import fault_run, faults, rehearse

    if options.faults:
        print("\n".join(faults.FAULTS))
        return 0
    fault = faults.fault_named(options.fault)
    prepare_process()
    progress = _Progress()
    pace = fault_run.FAST_PACE if options.fast else rehearse.NORMAL_PACE
    with tempfile.TemporaryDirectory(prefix="benchstation-") as scratch:
        data = options.data or Path(scratch)
        try:
            report = fault_run.FaultRehearsal(
                fault, data, options.folder, options.seed, pace, progress
            ).run()
        finally:
            progress.end()
    lines = [fault_run.as_json(report)] if options.json else list(fault_run.as_text(report))
    print("\n".join(lines))
    return 0 if report.caught else NOT_IN_ORDER


class _Progress:
    """One line that is rewritten on a terminal, one line a step elsewhere, on standard error."""

    def __init__(self) -> None:
        self._last = ""
        self._live = sys.stderr.isatty()

    def __call__(self, word: str, done: int, total: int) -> None:
        if word == self._last:
            return
        self._last = word
        text = f"{done}/{total} {word}"
        print(
            f"\r{text:<40}" if self._live else text,
            end="" if self._live else "\n",
            file=sys.stderr,
            flush=True,
        )

    def end(self) -> None:
        if self._live and self._last:
            print("\r" + " " * 40, end="\r", file=sys.stderr, flush=True)


def _calc(options: argparse.Namespace) -> int:
    from benchstation.cli import calc
    from benchstation.quantities.units import UnitSystem

    given = {name.replace("_", "-"): value for name, value in vars(options).items()}
    system = UnitSystem.INCH_POUND if options.inch_pound else UnitSystem.METRIC
    sheet = calc.compute(options.sheet, given, system)
    print(sheet.as_json() if options.json else sheet.readable(explain=options.explain))
    return 0


def _check_specification(path: Path) -> int:
    from benchstation.domain.specification import specification_in

    specification = specification_in(path)
    window = specification.check_window()
    print(
        f"{specification.id} revision {specification.revision}: {specification.family}\n"
        f"fill {specification.oil.volume * 1e6:.1f} mL lies inside its window of "
        f"{window.least_m3 * 1e6:.1f} to {window.most_m3 * 1e6:.1f} mL"
    )
    return 0
