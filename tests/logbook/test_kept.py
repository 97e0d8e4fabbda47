"""Refusals carry their finding."""

from brinehouse import findings
from brinehouse.logbook import kept


def test_a_refusal_reads_like_its_finding():
    refusal = kept.refused("logbook/no-id", "a fact has no id", "make one", item=3)
    assert str(refusal) == "a fact has no id\n    try: make one  [logbook/no-id]"
    assert refusal.finding.level is findings.Level.STOP
    assert refusal.finding.data == {"item": 3}
    assert issubclass(kept.Busy, kept.Refused)
    assert issubclass(kept.NotSaved, kept.Refused)


def test_a_tally_counts_what_a_list_would_hold():
    tally = kept.tally(kept.Outcome("a", state, 1) for state in ("new", "new", "same", "conflict"))
    assert (len(tally), tally.counts) == (4, {"new": 2, "same": 1, "conflict": 1})
