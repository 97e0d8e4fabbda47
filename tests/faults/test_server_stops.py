"""A database that stops, stands still or comes back takes nothing with it that was called saved."""

import pytest

pytestmark = pytest.mark.part("postgresql")


@pytest.fixture(scope="module")
def server():
    """A server of its own, to be stopped and started."""
    import pg_server

    made = pg_server.Server()
    try:
        yield made.start()
    finally:
        made.close()


def sound(told):
    assert told["faults"] == []
    assert told["found"] == []
    assert (told["lost"], told["doubled"], told["never sent"]) == (0, 0, 0)
    assert told["saved"] > 20
    assert max(told["waits"]) <= 10.0


@pytest.mark.parametrize("how", ["fast", "immediate", "paused"])
def test_what_was_called_saved_outlives_a_server_that_goes_away(server, beside, how):
    sound(beside("server_stops").run(server, "hall", how, seconds=0.5))


@pytest.mark.soak
@pytest.mark.parametrize("how", ["fast", "immediate", "paused"])
def test_five_times_in_a_row_and_a_minute_standing_still(server, beside, how):
    program = beside("server_stops")
    sound(program.run(server, "hall", how, times=5, seconds=1.0, phones=8))
    sound(program.run(server, "hall", how, times=1, seconds=60.0, phones=8))


def test_a_writer_that_tries_its_commit_again_and_calls_it_good_loses_what_it_called_saved(server, beside):
    told = beside("server_stops").run(server, "hall", "immediate", control=True)
    assert told["lost"] > 0
