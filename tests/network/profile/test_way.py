"""In which order the water is drawn."""

from brinehouse.facility import model
from brinehouse.network.profile import way


def run(id, source, target, through=(), flow=1.0):
    return model.Run(id=id, name=id, source=source, target=target, through=tuple(through), flow=flow)


def steps(found):
    return [[step.run for step in stretch] for stretch in found.stretches]


def test_a_closed_loop_closes_on_itself():
    found = way.order([run("up", "s", "t", ["p"]), run("down", "t", "s")], ["s", "t"], {})
    assert steps(found) == [["up", "down"]]
    assert found.closed


def test_an_open_line_begins_outside_and_does_not_close():
    runs = [run("lift", "w", "t", ["p"]), run("in", "outside", "w"), run("out", "t", "outside")]
    found = way.order(runs, ["w", "t"], {})
    assert steps(found) == [["in", "lift", "out"]]
    assert not found.closed


def test_a_little_fresh_water_from_outside_does_not_open_a_loop():
    runs = [run("top-up", "outside", "s", flow=0.1), run("up", "s", "t", ["p"]), run("down", "t", "s")]
    assert steps(way.order(runs, ["s", "t"], {}))[0] == ["up", "down"]


def test_a_tank_fed_by_anothers_overflow_stands_on_the_main_way():
    runs = [
        run("up", "s", "a", ["p"], 9),
        run("back", "a", "s", flow=7),
        run("side", "a", "b", flow=2),
        run("b-back", "b", "s", flow=2),
    ]
    found = way.order(runs, ["s", "a", "b"], {})
    assert steps(found)[0] == ["up", "side", "b-back"]
    assert [back.run for back in found.backs] == ["back"]


def test_a_branch_begins_after_the_last_machine_it_shares():
    runs = [
        run("one", "s", "a", ["p", "uv", "col"], 5),
        run("two", "s", "b", ["p", "uv"], 2),
        run("a-s", "a", "s", flow=5),
        run("b-s", "b", "s", flow=2),
    ]
    found = way.order(runs, ["s", "a", "b"], {})
    branch = found.stretches[1]
    assert (branch[0].run, branch[0].start, branch[0].parts) == ("two", "uv", ())


def test_a_machine_on_the_way_back_is_no_beginning():
    """Two tanks over one screen: the second comes to the screen, it does not begin there."""
    runs = [
        run("up", "s", "a", ["p"], 9),
        run("side", "a", "b", flow=2),
        run("b-back", "b", "s", ["screen"], 2),
        run("a-back", "a", "s", ["screen"], 7),
    ]
    found = way.order(runs, ["s", "a", "b"], {})
    back = found.backs[0]
    assert (back.run, back.start, back.over) == ("a-back", "a", ("screen",))


def test_a_bypass_needs_no_drawing_of_its_own():
    runs = [
        run("up", "s", "t", ["p", "uv"], 5),
        run("bypass", "s", "s", ["p"], 1),
        run("down", "t", "s", flow=5),
    ]
    found = way.order(runs, ["s", "t"], {})
    assert [(back.run, back.start) for back in found.backs] == [("bypass", "p")]


def test_many_branches_go_home_without_a_pipe_each():
    runs = [
        one
        for n in range(8)
        for one in (run(f"in{n}", "s", f"t{n}", ["p"], 8 - n), run(f"out{n}", f"t{n}", "s", flow=8 - n))
    ]
    found = way.order(runs, ["s", *(f"t{n}" for n in range(8))], {})
    assert len(found.stretches) == 8
    assert all(len(stretch) == 1 for stretch in found.stretches[1:])
    assert len(found.backs) == 7


def test_every_run_is_drawn_or_noted_once():
    runs = [
        run("x", "q", "r"),
        run("y", "r", "q"),
        run("z", "q", "q"),
        run("w", "outside", "r"),
        run("v", "r", "outside"),
    ]
    found = way.order(runs, ["q", "r"], {})
    told = [step.run for stretch in found.stretches for step in stretch] + [back.run for back in found.backs]
    assert sorted(told) == ["v", "w", "x", "y", "z"]


def test_names_decide_nothing():
    def drawn(a, b):
        runs = [
            run("up", "s", a, ["p"], 5),
            run("on", a, b, flow=2),
            run("a-s", a, "s", flow=3),
            run("b-s", b, "s", flow=2),
        ]
        return [
            [(step.source == a, step.target == b) for step in stretch]
            for stretch in way.order(runs, ["s", a, b], {}).stretches
        ]

    assert drawn("aaa", "zzz") == drawn("zzz", "aaa")
