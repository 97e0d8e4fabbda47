"""A small plant told as far as the test wants."""

HALL = """\
schema = 1
[facility]
name = "Test hall"
altitude = "0 m"
timezone = "Europe/London"
[tank.reef]
volume = "20 m3"
depth = "2 m"
surface = "10 m2"
elevation = "2 m"
crest = "3.96 m"
rim = "4.3 m"
overflow = "weir 0.5 m"
temperature = "25 °C"
salinity = "34 ppt"
[tank.side]
volume = "2 m3"
depth = "1 m"
surface = "2 m2"
elevation = "1.5 m"
crest = "2.48 m"
[sump.basin]
volume = "5 m3"
working = "3 m3"
surface = "3 m2"
elevation = "0 m"
rim = "1.6 m"
[pump.A]
curve = [["0 m3/h", "14 m"], ["20 m3/h", "11 m"], ["40 m3/h", "4 m"]]
elevation = "0.2 m"
strainer = false
check_valve = true
npsh = "2 m"
[pump.B]
curve = [["0 m3/h", "14 m"], ["20 m3/h", "11 m"], ["40 m3/h", "4 m"]]
elevation = "0.2 m"
strainer = false
check_valve = true
[duty.lift]
pumps = ["A", "B"]
keep = 1
[equipment.chiller]
kind = "chiller"
elevation = "0.5 m"
loss = ["20 m3/h", "1 m"]
[run.supply]
from = "basin"
through = ["lift", "chiller"]
to = "reef"
flow = "15 m3/h"
high = "4.2 m"
outlet = "3.5 m"
length = "20 m"
diameter = "46 mm"
fittings = ["1 tee", "5 elbows", "1 exit"]
[run.second]
from = "basin"
through = ["lift", "chiller"]
to = "side"
flow = "8 m3/h"
high = "2.7 m"
outlet = "2.6 m"
length = "12 m"
diameter = "45 mm"
fittings = ["1 tee", "4 elbows"]
open = "15 %"
[run.reef-back]
from = "reef"
to = "basin"
flow = "15 m3/h"
[run.side-back]
from = "side"
to = "basin"
flow = "8 m3/h"
"""
SUCTION = 'suction_length = "2 m"\nsuction_diameter = "80 mm"\nsuction_fittings = ["1 entry", "1 elbow"]\n'


def edited(*changes):
    """The hall with each pair's first text replaced by its second, wherever it stands."""
    text = HALL
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


def at(layout, run, part, where):
    """One station."""
    return next(s for s in layout.stations[run] if s.part == part and s.where == where)
