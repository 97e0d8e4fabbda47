"""The shape of the store: is it ours, is it known, and bringing an older one up to date."""

from __future__ import annotations

import importlib.resources
import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from brinehouse.logbook import house_tables, kept, tables

ROWS = 2_000
MIGRATIONS = Path(str(importlib.resources.files("brinehouse.logbook").joinpath("migrations")))


def revision(connection: sa.Connection) -> str | None:
    """The shape a database has, or None where it has no tables of ours yet."""
    names = set(sa.inspect(connection).get_table_names())
    if "alembic_version" in names:
        return connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
    if names:
        raise kept.refused(
            "logbook/not-a-logbook",
            "the database holds tables of something else",
            "give a folder or database of its own",
            tables=sorted(names)[:5],
        )
    return None


def known(found: str | None) -> bool:
    """Whether nothing needs doing; a newer shape is refused."""
    if found is None or found in tables.REVISIONS[:-1]:
        return False
    if found != tables.REVISIONS[-1]:
        raise kept.refused(
            "logbook/newer-data",
            f"this logbook was written by a newer Brinehouse (shape {found}; this one knows up to "
            f"{tables.REVISIONS[-1]})",
            "use the newer program; nothing was changed",
            found=found,
            known=tables.REVISIONS[-1],
        )
    return True


def upgrade(connection: sa.Connection, migrations: Path = MIGRATIONS) -> None:
    """Bring the store to the newest shape, triggers and all, inside the caller's transaction."""
    from alembic.config import Config
    from alembic.runtime.environment import EnvironmentContext
    from alembic.runtime.migration import MigrationStep
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(migrations).replace("%", "%%"))
    script = ScriptDirectory.from_config(config)

    def steps(current: Any, _context: Any) -> Iterable[Any]:
        below: Any = current or "base"
        if isinstance(below, tuple):
            below = below[0] if below else "base"
        chosen = reversed(list(script.iterate_revisions("head", below)))
        return [MigrationStep.upgrade_from_script(script.revision_map, step) for step in chosen]

    with EnvironmentContext(config, script, fn=steps) as environment:
        environment.configure(
            connection=connection,
            target_metadata=house_tables.account.metadata,
            render_as_batch=connection.dialect.name == "sqlite",
        )
        environment.run_migrations()
    tables.guard(connection)


def back_up(connection: sa.Connection, path: Path) -> None:
    """A copy of a SQLite store beside it, made by SQLite itself; outside a transaction.

    It has its name once it is whole and on the disk: one that was cut short is made again.
    """
    fresh = path.with_name(f"{path.name}.new")
    fresh.unlink(missing_ok=True)
    raw: Any = connection.connection.driver_connection
    raw.execute("VACUUM INTO ?", (str(fresh),)).close()
    keep(fresh, path)


def back_up_server(connection: sa.Connection, path: Path) -> None:
    """Every row of a database of any older shape, in a SQLite file of plain tables."""
    fresh = path.with_name(f"{path.name}.new")
    fresh.unlink(missing_ok=True)
    there, plain = sa.MetaData(), sa.MetaData()
    there.reflect(connection)
    target = sa.create_engine(f"sqlite:///{fresh}", poolclass=sa.NullPool)
    try:
        with target.begin() as copy:
            for table in there.sorted_tables:
                columns = [sa.Column(c.name, c.type.as_generic(), primary_key=c.primary_key) for c in table.c]
                made = sa.Table(table.name, plain, *columns)
                made.create(copy)
                result = connection.execute(sa.select(table), execution_options={"yield_per": ROWS})
                for block in result.mappings().partitions():
                    copy.execute(sa.insert(made), [dict(row) for row in block])
    finally:
        target.dispose()
    keep(fresh, path)


def keep(fresh: Path, path: Path) -> None:
    """Have a new file on the disk before it takes its name."""
    descriptor = os.open(fresh, os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
    fresh.replace(path)


def copy_name(found: str) -> str:
    """What the copy of a logbook is called that is made before its shape changes."""
    return f"logbook-before-{found}-changed.sqlite"
