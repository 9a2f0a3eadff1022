"""A PostgreSQL server of this program's own, in a folder that is thrown away: to try and to test.

It keeps nothing over a power cut. Records of a real shop belong on a server that somebody looks
after.
"""

import os
import shutil
import signal
import socket
import subprocess
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import psycopg

from benchstation.store.backends.postgresql import ShopAddress, shop_address
from benchstation.store.errors import StoreError

OWNER, SYSTEM_USER = "owner", "postgres"
START_S = 30.0
SETTINGS = {
    "fsync": "off",
    "full_page_writes": "off",
    "autovacuum": "off",
    "shared_buffers": "16MB",
    "max_connections": "80",
    "lc_messages": "C",
}


def server_programs() -> Path | None:
    """Return the folder of ``initdb`` and ``postgres``, the newest first; ``None``: not here."""
    debian = sorted(
        Path("/usr/lib/postgresql").glob("*/bin"),
        key=lambda p: p.parent.name.zfill(4),
        reverse=True,
    )
    found = shutil.which("postgres")
    on_path = [Path(found).resolve().parent] if found else []
    return next((p for p in [*debian, *on_path] if (p / "initdb").exists()), None)


def require_programs() -> Path:
    """Return the folder of the server's programs. Raises :class:`StoreError` without one."""
    if not hasattr(socket, "AF_UNIX"):
        raise StoreError(
            "a server of our own needs local sockets, which this system has not.",
            advice="Use a shop that runs already.",
        )
    programs = server_programs()
    if programs is None:
        raise StoreError(
            "no PostgreSQL server is installed here.",
            advice="Install one (Debian: apt install postgresql), or use a shop that runs already.",
        )
    return programs


class OwnServer:
    """One server: anybody logs in with a password, its owner by the socket without."""

    def __init__(self, programs: Path, folder: Path, password: str) -> None:
        """Use ``start``. ``folder`` is empty, and nobody else's."""
        self._programs, self.folder, self._password = programs, folder, password
        # The server refuses to run as root.
        self._root = hasattr(os, "geteuid") and os.geteuid() == 0
        self._server: subprocess.Popen[bytes] | None = None
        self._made = 0
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port: int = probe.getsockname()[1]

    def make(self) -> None:
        """Make the server's files, and start it."""
        self.folder.mkdir(exist_ok=True)
        words = self.folder / "words"
        words.touch(mode=0o600)
        words.write_text(self._password)
        if self._root:
            for path in (self.folder, words):
                shutil.chown(path, SYSTEM_USER, SYSTEM_USER)
        self._run(
            "initdb", "--pgdata", self._data, "--username", OWNER, "--pwfile", words,
            "--auth-local=trust", "--auth-host=scram-sha-256", "--encoding=UTF8", "--locale=C",
            "--no-sync", "--no-instructions",
        )  # fmt: skip
        words.unlink()
        with (self._data / "postgresql.conf").open("a") as conf:
            conf.writelines(f"{name} = '{value}'\n" for name, value in SETTINGS.items())
        self.start()

    def start(self) -> None:
        """Start the server and wait until it answers. Raises :class:`StoreError`."""
        with (self.folder / "log").open("ab") as log:
            self._server = subprocess.Popen(  # noqa: S603 - its own program and folder
                [
                    self._programs / "postgres", "-D", self._data, "-p", str(self.port),
                    "-k", self.folder, "-h", "127.0.0.1",
                ],
                stdout=log, stderr=log, cwd=self.folder, **self._as,
            )  # fmt: skip
        until = time.monotonic() + START_S
        while True:
            try:
                psycopg.connect(self.conninfo("postgres")).close()
                return
            except psycopg.OperationalError as error:
                if self._server.poll() is not None or time.monotonic() > until:
                    raise StoreError(
                        "the PostgreSQL server does not start.",
                        where=str(self.folder),
                        advice="See its log there.",
                        detail=self.log()[-2000:],
                    ) from error
                time.sleep(0.02)

    def stop(self, *, at_once: bool = False) -> None:
        """Stop the server: its clients are cut off; ``at_once`` as by a kill."""
        if self._server is not None:
            self._server.send_signal(signal.SIGQUIT if at_once else signal.SIGINT)
            self._server.wait(timeout=START_S)
            self._server = None

    def conninfo(self, database: str) -> str:
        """Return what libpq needs for the owner, by the socket."""
        return f"host={self.folder} port={self.port} dbname={database} user={OWNER}"

    def run(self, statement: str, database: str = "postgres") -> None:
        """Run one statement as the owner, outside a transaction."""
        with psycopg.connect(self.conninfo(database), autocommit=True) as connection:
            connection.execute(statement.encode())

    def log(self) -> str:
        """Return what the server wrote."""
        return (self.folder / "log").read_text(errors="replace")

    def new_database(self, template: str = "template0", more: str = "") -> str:
        """Create a database; return its name."""
        self._made += 1
        name = f"shop{self._made}"
        self.run(f"CREATE DATABASE {name} TEMPLATE {template} {more}")
        return name

    def address(self, database: str) -> ShopAddress:
        """Return the owner's address, by TCP and with a password."""
        url = f"postgresql://{OWNER}@127.0.0.1:{self.port}/{database}"
        return shop_address(url, self._password)

    @property
    def _data(self) -> Path:
        return self.folder / "data"

    @property
    def _as(self) -> Mapping[str, Any]:
        if not self._root:
            return {}
        return {"user": SYSTEM_USER, "group": SYSTEM_USER, "extra_groups": []}

    def _run(self, program: str, *arguments: str | Path) -> None:
        done = subprocess.run(  # noqa: S603 - its own program and folder
            [self._programs / program, *arguments],
            check=False, capture_output=True, cwd=self.folder, **self._as,
        )  # fmt: skip
        if done.returncode:
            raise StoreError(
                "the PostgreSQL server cannot be made.",
                where=str(self.folder),
                advice="Try again, or use a shop that runs already.",
                detail=done.stderr.decode(errors="replace")[-2000:],
            )
