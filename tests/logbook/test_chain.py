"""The end of the chain inside a transaction."""

import sqlalchemy as sa

from brinehouse.logbook import canon, chain, database, tables


class ByName:
    """The connection as the chain sees it on a database that takes parameters by name."""

    class dialect:
        positional = False

    def __init__(self, connection):
        self.execute = connection.execute


def test_the_driver_and_the_toolkit_write_the_same_entries(folder, file_book, reading):
    """The short way through the driver and the long way that other databases take differ in nothing."""
    rows = []
    for content in (canon.content_of(reading(i, note="µ")) for i in (1, 2)):
        text = canon.written(content)
        rows.append((content, (1, None, ""), text, canon.digest_of(text)))
    engine = database.writing_engine(folder / database.FILE)
    stored = []
    for seen in (lambda connection: connection, ByName):
        with engine.connect() as connection:
            transaction = connection.begin()
            end = chain.Chain(connection)
            end.connection = seen(connection)
            end.add(rows)
            stored.append(connection.execute(sa.select(tables.entry)).all())
            transaction.rollback()
    engine.dispose()
    assert stored[0] == stored[1]
    assert len(stored[0]) == 2
