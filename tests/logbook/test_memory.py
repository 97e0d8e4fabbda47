"""What is remembered while nobody else can write, and that no change is ever missed."""

from concurrent.futures import Future

from brinehouse.logbook import memory, store


def asked(of, answers):
    """Ask of a memory; what it says, and whether it had to look."""
    looked = []
    found = of.ask("who", lambda: looked.append(1) or answers[0])
    return found, bool(looked)


def test_what_was_asked_is_not_looked_up_again():
    of = memory.Memory()
    assert of.peek("who") is memory.NOTHING
    assert asked(of, ["Wren"]) == ("Wren", True)
    assert asked(of, ["Heron"]) == ("Wren", False)
    assert of.peek("who") == "Wren"


def test_a_change_is_seen_from_its_end_on_and_nothing_is_kept_while_it_is_under_way():
    of, stands, change = memory.Memory(), ["Wren"], Future()
    asked(of, stands)
    of.changing(lambda: change)
    assert of.peek("who") is memory.NOTHING
    assert asked(of, stands) == ("Wren", True)  # read before the commit: told, but not kept
    stands[0] = "Heron"
    change.set_result(None)
    assert asked(of, stands) == ("Heron", True)
    assert asked(of, ["nobody"]) == ("Heron", False)


def test_what_was_read_before_a_change_that_has_ended_since_is_not_kept():
    of = memory.Memory()

    def slow():
        change = Future()
        of.changing(lambda: change)
        change.set_exception(OSError("the disk"))
        return "Wren"

    assert of.ask("who", slow) == "Wren"
    assert of.peek("who") is memory.NOTHING


def test_a_change_that_could_not_begin_leaves_the_memory_in_use():
    of = memory.Memory()

    def closed():
        raise RuntimeError("the logbook is closed")

    try:
        of.changing(closed)
    except RuntimeError:
        asked(of, ["Wren"])
    assert of.peek("who") == "Wren"


def test_the_memory_does_not_grow_without_end():
    of = memory.Memory()
    for number in range(memory.MOST + 5):
        of.ask(number, lambda: True)
    assert len(of._kept) <= memory.MOST


def test_only_whoever_holds_the_lock_remembers(folder):
    with store.open_logbook(folder, create=True) as book:
        assert book.people() == []
        assert book.peek("people") is memory.NOTHING
        book.hold()
        assert book.people() == []
        assert book.peek("people") == []
        number = book.add_person("Robin Wren")
        assert [(one.number, one.name) for one in book.people()] == [(number, "Robin Wren")]
        book.people().clear()
        assert len(book.people()) == 1


def test_the_head_known_to_the_writer_is_the_one_in_the_file(folder, reading):
    with store.open_logbook(folder, create=True) as book, store.open_logbook(folder) as other:
        book.add_person("Robin Wren")
        book.hold()
        for number in range(3):
            book.append([reading(number)])
            assert book.head() == other.head()
            assert book.head()[0] == number + 1


def test_a_number_that_was_given_in_the_same_commit_counts(folder, reading):
    """The numbers of everyone are read once a commit; a name that is added to it is among them."""
    from brinehouse.logbook import appending, beside

    with store.open_logbook(folder, create=True) as book:

        def both(end):
            appending.append(end, [reading(1)])
            number = beside.add_person(end, "Robin Wren")
            return appending.append(end, [reading(2, person=number)])

        assert [one.state for one in book._write(both)] == ["new"]


def test_an_entry_sent_again_by_a_clock_that_was_set_keeps_its_first_time(folder, reading, start):
    from datetime import timedelta

    minute = timedelta(minutes=3)
    with store.open_logbook(folder, create=True) as book:
        first = reading(1)
        again = reading(1, measured=first.measured + minute)
        assert book.append([first])[0].state == "new"
        assert book.append_later([again], steady=2 * minute).result()[0].state == "same"
        assert book.append_later([again], steady=minute / 3).result()[0].state == "conflict"
