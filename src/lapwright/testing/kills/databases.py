"""Databases to be killed over: prepared once, kept, and laid down again before each kill; SQLite or PostgreSQL."""

from __future__ import annotations

import os
import shutil
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from lapwright.settings import Settings, read_settings

WORK = "work"
CHECKED = 10.0  # s that a server gets to notice that a client is gone


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """The data folder that all work is done in, and where prepared ones are kept; the settings of both."""

    folder: Path
    settings: Settings
    server: str | None

    @property
    def data(self) -> Path:
        """The data folder."""
        return self.settings.data

    def keep(self, name: str) -> None:
        """Keep the data folder and its database, as they are, under a name."""
        shutil.copytree(self.data, self._kept(name))
        if self.server is not None:
            self._put(f'CREATE DATABASE "{name}" TEMPLATE "{WORK}"')

    def lay_down(self, name: str | None) -> None:
        """Put the data folder and its database back to what was kept; without a name: to nothing."""
        shutil.rmtree(self.data, ignore_errors=True)
        if name is None:
            self.data.mkdir(parents=True)
        else:
            shutil.copytree(self._kept(name), self.data)
        if self.server is not None:
            template = "template0" if name is None else name
            self._put(
                f'DROP DATABASE IF EXISTS "{WORK}" WITH (FORCE)', f'CREATE DATABASE "{WORK}" TEMPLATE "{template}"'
            )

    def settle(self) -> None:
        """Wait until the server has noticed that its clients are gone, and has finished what they had asked."""
        if self.server is None:
            return
        asked = "SELECT count(*) FROM pg_stat_activity WHERE datname = 'work'"
        patience = time.monotonic() + CHECKED
        while self._put(asked)[0] > 0:
            if time.monotonic() > patience:
                raise TimeoutError(f"The server still has clients of {WORK} after {CHECKED:g} s.")
            time.sleep(0.01)

    # ------------------------------------------------------------------------------------------------------------------

    def _kept(self, name: str) -> Path:
        return self.folder / "kept" / name

    def _put(self, *statements: str) -> Any:
        """Statements to the server itself; the first row of the last answer."""
        import psycopg

        assert self.server is not None
        with psycopg.connect(self.server, autocommit=True) as connection:
            for statement in statements:
                done = connection.execute(statement)  # type: ignore[arg-type, unused-ignore]  # our own names
            return done.fetchone() if done.description else None


def set_up(folder: Path, server: str | None) -> Bench:
    """Set Django up for a data folder in `folder`, with no database opened yet; once in a process."""
    from lapwright.records import starting, upgrading

    os.environ.pop("LAPWRIGHT_DATABASE", None)
    if server is not None:
        address = urlsplit(server)._replace(path=f"/{WORK}").geturl()
        os.environ["LAPWRIGHT_DATABASE"] = address  # the commands read it, too
    os.environ.pop("LAPWRIGHT_DATA", None)
    settings = read_settings({"data": folder / WORK})
    opened, upgrading.bring_up_to_date = upgrading.bring_up_to_date, lambda settings: None  # noqa: ARG005
    starting.start(settings)  # the processes that are forked open the database themselves
    upgrading.bring_up_to_date = opened
    return Bench(folder=folder, settings=settings, server=server)
