"""Changes of shape, killed at each statement: ``migration_kills.py FOLDER OLD-FILE STEP [ADDRESS]``.

For each point a child opens the logbook of the old shape and is killed there with SIGKILL; then the file, or
the database, is looked at with a stranger's eyes: it must be all old or all new. The last child is let
through. ``CARELESS=1`` commits after each statement: the control, in which something between must be found.
``OLD-FILE`` ``-`` begins from nothing.
"""

import contextlib
import json
import os
import pathlib
import shutil
import signal
import sqlite3
import sys

import sqlalchemy as sa

from brinehouse.logbook import kept, remote, shape, store

FOLDER, OLD, STEP = pathlib.Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
ADDRESS = sys.argv[4] if len(sys.argv) > 4 else ""
CARELESS = os.environ.get("CARELESS") == "1"
HALL = FOLDER / "hall"


class FailPoints:
    """Kills this process at the n-th point: a statement of the change, or either side of its commit."""

    def __init__(self, at):
        self.left = at
        self.passed = 0

    def pass_one(self):
        self.passed += 1
        self.left -= 1
        if self.left == 0:
            os.kill(os.getpid(), signal.SIGKILL)

    def arm(self):
        wrapped = shape.upgrade

        def upgrade(connection, *more):
            sa.event.listen(connection, "before_cursor_execute", self.before)
            sa.event.listen(connection, "after_cursor_execute", self.after)
            sa.event.listen(connection.engine, "commit", lambda _: self.pass_one())
            wrapped(connection, *more)

        shape.upgrade = upgrade

    def before(self, _connection, _cursor, _statement, *_more):
        self.pass_one()

    def after(self, connection, _cursor, _statement, *_more):
        if not CARELESS:
            return
        raw = connection.connection.driver_connection
        if ADDRESS:
            raw.commit()
        else:
            raw.execute("COMMIT").close()
            raw.execute("BEGIN IMMEDIATE").close()


def opened():
    return store.open_logbook(ADDRESS or HALL, create=True, folder=HALL if ADDRESS else None)


def child(at):
    """Open, and be killed on the way; how many points were passed where it was not."""
    reads, writes = os.pipe()
    pid = os.fork()
    if pid == 0:
        points = FailPoints(at)
        points.arm()
        with contextlib.suppress(kept.Refused):
            opened().close()
        os.write(writes, str(points.passed).encode())
        os._exit(0)
    os.close(writes)
    with os.fdopen(reads) as said:
        text = said.read()
    status = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    assert status in (0, -signal.SIGKILL), status
    return int(text) if status == 0 else None


def picture():
    """Everything of the shape: tables, columns, indexes, triggers, and what it calls itself."""
    if ADDRESS:
        engine = sa.create_engine(remote.normal(ADDRESS), poolclass=sa.pool.NullPool)
        with engine.connect() as connection:
            return repr([connection.execute(sa.text(query)).all() for query in ON_SERVER])
    path = HALL / "logbook.sqlite"
    if not path.exists():
        return "[]"
    with contextlib.closing(sqlite3.connect(path)) as raw:
        rows = raw.execute("SELECT type, name, sql FROM sqlite_master ORDER BY type, name").fetchall()
        return repr([rows, _version(raw, rows)]) if rows else "[]"


def _version(raw, rows):
    there = any(name == "alembic_version" for _, name, _ in rows)
    return raw.execute("SELECT version_num FROM alembic_version").fetchall() if there else []


ON_SERVER = (
    "SELECT table_name, column_name, data_type, is_nullable, column_default FROM information_schema.columns"
    " WHERE table_schema = 'public' ORDER BY 1, 2",
    "SELECT indexname, indexdef FROM pg_indexes WHERE schemaname = 'public' ORDER BY 1",
    "SELECT trigger_name, event_manipulation, event_object_table FROM information_schema.triggers"
    " ORDER BY 1, 2, 3",
    "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal ORDER BY 1",
)


def renew():
    """The old logbook again."""
    if ADDRESS:
        return  # nothing of it was committed
    shutil.rmtree(HALL, ignore_errors=True)
    HALL.mkdir(parents=True)
    if OLD != "-":
        shutil.copy(OLD, HALL / "logbook.sqlite")


def main():
    HALL.mkdir(parents=True, exist_ok=True)
    renew()
    old, seen, bare, at = picture(), {}, [], 1
    while (passed := child(at)) is None:
        seen[at] = picture()
        if OLD != "-" and not any(HALL.glob("logbook-before-*-changed.sqlite")):
            bare.append(at)
        if seen[at] != old or len(seen) % 2 == 0:
            renew()  # every other time the next one comes upon what a killed one left
        at += STEP
    new = picture()
    told = {
        "killed": len(seen),
        "points": passed,
        "changed": old != new,
        "between": [at for at, found in seen.items() if found not in (old, new)],
        "without a copy": bare,
    }
    if not CARELESS:
        with opened() as book:
            told["found"] = [str(finding) for finding in book.verify()]
            told["head"] = list(book.head())
    print(json.dumps(told))


if __name__ == "__main__":
    main()
