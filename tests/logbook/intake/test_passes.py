"""The two passes agree row by row."""

T = "2026-03-02T{:02d}:00:00+01:00"
HEAD = "time,place,quantity,value,unit,method,by,note\n"


def test_marks_of_the_first_pass_reach_the_right_readings_of_the_second(examine, now):
    values = ["x", 24.0, 24.3, 31.9, 24.5, "NaN", 24.2, 24.4, 24.1]
    rows = "".join(
        f"{T.format(at)},T-1,temperature,{value},degC,probe,logger,\n" for at, value in enumerate(values)
    )
    seen = examine(HEAD + rows)
    marked = [(one.value, one.quality) for one in seen.readings(now) if "intake/spike" in one.marks]
    assert (seen.verdict, marked) == ("reject-rows", [(31.9, "doubtful")])


def test_readings_may_be_made_again_and_again(examine, now):
    seen = examine(HEAD + f"{T.format(8)},T-1,temperature,24.6,degC,probe,logger,\n" * 3)
    assert list(seen.readings(now)) == list(seen.readings(now))


def test_the_stretch_of_time_is_told(examine):
    rows = "".join(f"{T.format(at)},T-1,temperature,24.{at},degC,probe,logger,\n" for at in (9, 3, 5))
    first, last = examine(HEAD + rows).span
    assert (first.hour, last.hour) == (2, 8)
