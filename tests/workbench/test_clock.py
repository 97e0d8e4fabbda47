"""The only clock."""

from datetime import UTC, datetime, timedelta

from brinehouse.workbench import clock


def test_the_clock_is_aware_and_can_be_stopped():
    assert clock.now().tzinfo is UTC
    at = datetime(2026, 3, 14, tzinfo=UTC)
    clock.freeze(at)
    assert clock.now() == at
    clock.freeze(None)
    assert clock.now() - at > timedelta(0)
