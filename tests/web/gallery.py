"""Pages to look at: every part of the sheet, with invented values, rendered without the application.

``python tests/web/gallery.py FOLDER`` writes pictures and A4 pages of them.
"""

import contextlib
import functools
import http.server
import math
import pathlib
import random
import sys
import threading
from types import SimpleNamespace as Some

import jinja2

from brinehouse import answers, findings
from brinehouse.web import catalogue, drawing, files, guard

NAV = ("now", "loop", "gas", "time in hand", "rounds", "plant", "water", "log", "hand-over")

NOW = """
{% extends "base.html" %}
{% from "parts/findings.html" import concerns, cautions with context %}
{% from "parts/tables.html" import multiples with context %}
{% block heading %}Three things are not as they should be; the oldest is two days old{% endblock %}
{% block main %}
{{ concerns(rows) }}
{{ multiples(lines, quantities, title="The water, last 24 hours", first="tank", hand="least time in hand") }}
<p class="quiet">Shaded: the aim for that tank. A value older than 36 hours is hatched and says so.
Everything else in the hall is quiet: 4 systems, 11 pumps, 86 points, last round 06:28 complete.</p>
<p class="actions"><a class="button" href="#">Write the first reading</a> <a href="#">The log of today</a></p>
{% endblock %}
"""

GAS = """
{% extends "base.html" %}
{% from "parts/findings.html" import list, cautions, next_readings with context %}
{% from "parts/working.html" import working with context %}
{% from "parts/marks.html" import mark, value with context %}
{% from "parts/tables.html" import plain with context %}
{% block heading %}Pipefish stand 0.25 m too shallow for the gas in their water{% endblock %}
{% block lead %}<p class="lead">From 96 readings of 2 to 14 March 2026. Advice, not a command.</p>{% endblock %}
{% block main %}
<h2>Gas against depth</h2>
{{ drawing.gas_depths(columns) }}
{{ drawing.gas_key("above the gas line bubbles can form", "gas line, with its 95 % interval beside the tank",
   "animals, at the shallow end of the depth they use") }}
<h2>Which meters to believe</h2>
{{ drawing.intervals(meters, heads=("meter", "reads too high by", "95 % interval"), zero=0.0, unit="points") }}
<h2>What would explain it</h2>
<table class="stack" role="table"><thead role="rowgroup"><tr role="row"><th role="columnheader" scope="col">explanation</th>
<th role="columnheader" scope="col" class="number">weight</th><th role="columnheader" scope="col"><span class="seen-by-readers">weight, drawn</span></th>
<th role="columnheader" scope="col">fits</th></tr></thead><tbody role="rowgroup">
{% for share, text, fits in weights %}<tr role="row"><td role="cell">{{ text }}</td>
<td role="cell" class="number" data-label="weight"><span class="cell">{{ (100 * share)|round|int }} %</span></td>
<td role="cell" class="drawn-cell">{{ drawing.bar(share, label=text, first=loop.first) }}</td>
<td role="cell" data-label="fits"><span class="cell">{{ fits }}</span></td></tr>{% endfor %}
</tbody></table>
{{ working(steps, open=true) }}
<h2>A gas trial at pipefish, meter B</h2>
{{ drawing.settling(points, curve, plateau=104.9, low=104.6, high=105.4, label="Gas trial at pipefish",
   x_label="min", y_label="total gas pressure, %") }}
<h2>A gas trial that cannot say yet</h2>
{{ drawing.settling(points[:4], curve[:30], plateau=107.0, low=104.0, high=inf, label="Gas trial at mangrove",
   x_label="min", y_label="total gas pressure, %") }}
{{ plain(table) }}
{{ list(found, title="What was found") }}
{{ next_readings(["TGP and O₂ before and after P-203, ten minutes after it starts. That separates 1 from 2."]) }}
{{ cautions(["Sick animals go to the veterinarian.", "Isolate pumps by your own procedure; water and electricity stand side by side here."]) }}
{% endblock %}
"""

FORM = """
{% extends "base.html" %}
{% from "parts/forms.html" import field, tick, pager with context %}
{% from "parts/findings.html" import list with context %}
{% from "parts/marks.html" import value, mark, age with context %}
{% block heading %}One thing to put right before this reading is kept{% endblock %}
{% block main %}
<form method="post" action="#">
<div class="two"><div>
{{ field("place", "Place", "pipefish", kind="choice", choices=["mangrove", "pipefish", ("kelp", "kelp tower")], required=true) }}
{{ field("value", "Total gas pressure", "1047", fault="1047 % cannot be: last was 103.9 %. Did you mean 104.7?", unit="%",
   hint="As the meter shows it.", example="104.7", kind="number", required=true) }}
{{ field("at", "When", "2026-03-14T06:40", kind="datetime-local") }}
</div><div>
{{ field("note", "Note", "", kind="long", hint="What else you saw.") }}
{{ field("sheet", "A sheet of readings", kind="file") }}
{{ tick("sure", "It is so: I read it twice", true) }}
</div></div>
<div class="actions"><button class="answer">Keep it, with a reason</button> <button type="button">Look again</button> <a href="#">Back</a></div>
</form>
{{ list(found) }}
<p>{{ value(doubtful, level="act") }} {{ mark("watch") }} {{ mark("ask") }} {{ mark("stop") }} {{ age("06:40", "12 min") }}</p>
<p class="figure large"><span class="number">104.7</span> <span class="unit">%</span></p>
{{ drawing.among(104.7, [99.1, 99.4, 100.2, 99.8, 100.9, 98.6], (98.0, 101.0), label="104.7, among the last six", level="act") }}
<div class="keypad">{% for key in "789456123,0" %}<button type="button">{{ key }}</button>{% endfor %}<button type="button">clear</button>
<button type="button" class="answer">Keep it, with a reason</button></div>
<form class="filter" method="get" action="#">
{{ field("q", "Place", "", kind="choice", choices=["mangrove", "pipefish"]) }}
{{ field("quantity", "Quantity", "", kind="choice", choices=["temperature"], id="box-q2") }}
{{ field("since", "Since", "2026-03-01", kind="date") }}
<button>Show</button></form>
<table class="full stack lines" role="table"><thead role="rowgroup"><tr role="row"><th role="columnheader" scope="col">when</th><th role="columnheader" scope="col">place</th><th role="columnheader" scope="col">quantity</th><th role="columnheader" scope="col" class="number">value</th><th role="columnheader" scope="col">by</th></tr></thead><tbody role="rowgroup">
{% for i in range(30) %}<tr role="row"><td role="cell">2026-03-{{ "%02d" % (14 - i // 3) }} 06:{{ 40 - i }}</td><td role="cell" data-label="place"><a href="#">pipefish</a></td><td role="cell" data-label="quantity"><span class="cell">total gas pressure</span></td><td role="cell" class="number" data-label="value"><span class="cell">{{ value({"value": 104.7 - i / 10, "unit": "%", "u": 0.2}) }}</span></td><td role="cell" data-label="by"><span class="cell">M. Orde</span></td></tr>{% endfor %}
</tbody></table>
{{ pager("1 to 30 of 412", newer="#n", older="#o") }}
{% endblock %}
"""


def _trace(start, drift, seed):
    chance = random.Random(seed)
    level = start
    out = []
    for minute in range(0, 1440, 20):
        level += drift / 72 + chance.gauss(0, abs(start) * 0.0004)
        out.append((float(minute), None if 500 < minute < 640 and seed % 2 else level))
    return out


def _cell(value, unit, decimals, aim, drift, seed, level=None, stale=False):
    return {"value": value, "unit": unit, "u": None, "decimals": decimals, "level": level, "stale": stale,
            "trace": _trace(value - drift, drift, seed), "aim": aim}  # fmt: skip


def values():
    """What the three pages show; all of it invented."""
    act, watch, ask = findings.Level.ACT, findings.Level.WATCH, findings.Level.ASK
    rows = [
        {"level": act, "since": "03:10", "what": "pipefish: gas pressure", "value": "104.7 %", "href": "#gas",
         "why": "air at the strainer of P-203; N₂ up more than O₂", "next": "clean the strainer, or rest P-203; look at the strainer lid",
         "who": "keeper on call, told 03:14"},
        {"level": watch, "since": "12 Mar", "what": "meter B reads 1.2 points high", "value": "", "href": "",
         "why": "swap of 11 March; air check of 12 March agrees", "next": "zero in dry air, or use with the correction", "who": "J. Lark"},
        {"level": watch, "since": "11 Mar", "what": "vat 2 will be late", "value": "", "href": "#water",
         "why": "RO is 9 % down since the new membrane", "next": "start the batch by 15:00 today", "who": ""},
    ]  # fmt: skip
    tanks = [("mangrove", "58 m³", 25.4, 34.1, 102.9, watch, "9.4 h"), ("pipefish", "0.9 m³", 25.1, 34.1, 104.7, act, "1.6 h"),
             ("kelp tower", "31 m³", 13.9, 34.6, 100.6, None, "14 h"), ("cold bench", "2.2 m³", 13.6, 34.5, 100.9, None, "6.1 h")]  # fmt: skip
    lines = [
        {"name": name, "note": note, "href": f"#{name}", "hand": hand, "cells": {
            "t": _cell(t, "°C", 1, (t - 0.6, t + 0.5), 0.2, 3 * i),
            **({"s": _cell(s, "", 1, (33.5, 35.5), 0.1, 3 * i + 1, stale=i == 2)} if i != 3 else {}),
            "g": _cell(g, "%", 1, (None, 101.0), 2.0, 3 * i + 2, level)}}
        for i, (name, note, t, s, g, level, hand) in enumerate(tanks)
    ]  # fmt: skip
    column = drawing.Column
    columns = [
        column(name="mangrove", depth=2.6, gas=0.28, low=0.22, high=0.34, shallow=0.6, deep=2.2, value="102.9 ± 0.3 %",
               gas_words="gas line 0.28 ± 0.06 m", animal_words="animals from 0.60 m", href="#m"),
        column(name="pipefish", depth=0.9, gas=0.45, low=0.41, high=0.49, shallow=0.2, deep=0.7, level="act",
               verdict="0.25 m too shallow", value="104.7 ± 0.4 %", gas_words="gas line 0.45 ± 0.04 m", animal_words="animals from 0.20 m"),
        column(name="kelp tower", depth=4.2, gas=0.07, low=0.0, high=0.15, shallow=0.5, deep=4.0, value="100.6 ± 0.4 %",
               gas_words="gas line 0.07 ± 0.07 m", animal_words="animals from 0.50 m"),
        column(name="cold bench", depth=0.6, gas=0.1, low=0.04, high=0.16, shallow=0.12, deep=0.4, level="watch", verdict="may be 0.04 m too shallow",
               value="100.9 ± 0.4 %", gas_words="gas line 0.10 ± 0.06 m", animal_words="animals from 0.12 m"),
        column(name="sump-m", depth=1.2, gas=0.4, low=0.35, high=0.46, value="103.9 ± 0.4 %", gas_words="gas line 0.40 ± 0.05 m"),
    ]  # fmt: skip
    curve = [(i / 2, 104.9 - 2.8 * math.exp(-i / 2 / 5.5)) for i in range(53)]
    points = [(float(m), round(104.9 - 2.8 * math.exp(-m / 5.5) + 0.05 * math.sin(7 * m), 1)) for m in (0, 2, 5, 8, 12, 16, 20, 26)]
    return {
        "quantities": [("t", "temperature"), ("s", "salinity"), ("g", "total gas pressure")], "rows": rows, "lines": lines, "columns": columns, "points": points, "curve": curve, "inf": math.inf,
        "meters": [
            {"label": "meter A", "value": -0.1, "low": -0.4, "high": 0.2, "note": "use it as it is"},
            {"label": "meter B", "value": 1.2, "low": 0.9, "high": 1.5, "level": "watch", "note": "zero it in dry air, or let the correction stand"},
        ],
        "weights": [(0.83, "air drawn in at a pump suction", "9 of 9 readings"), (0.12, "bubbles carried under at a fall", "6 of 9"),
                    (0.05, "warming in pumps and lights", "3 of 9")],
        "steps": [
            answers.Step(name="vapour", equation="p_w = f(temperature, salinity)", inputs={"temperature": (25.1, "°C"), "salinity": (34.1, "")},
                         result=23.4, unit="mmHg", source="Green and Carritt (1967)"),
            answers.Step(name="ΔP", equation="ΔP = P_total − P_barometer", inputs={"P_total": (759.1, "mmHg"), "P_barometer": (725.0, "mmHg")},
                         result=34.1, unit="mmHg", source="definition", note="Station pressure, not reduced to the sea"),
        ],
        "table": answers.Table(name="water", title="What the water holds",
            columns=tuple(answers.Output(name=n, label=n, unit=u, decimals=d) for n, u, d in (("place", "", 0), ("TGP", "%", 1), ("O₂", "%", 0), ("N₂+Ar", "%", 1), ("ΔP", "mmHg", 0))),
            rows=tuple({"place": p, "TGP": answers.Value(value=g, unit="%", u=0.2), "O₂": answers.Value(value=98.0, unit="%", u=0.5), "N₂+Ar": answers.Value(value=g + 1.4, unit="%", u=0.26), "ΔP": d}
                       for p, g, d in (("mangrove", 102.9, 21.0), ("pipefish", 104.7, 34.0)))),
        "found": [
            findings.Finding(code="gas/uncompensated", level=act, text="pipefish stand above the gas line.", hint="lower the perch, or rest P-203"),
            findings.Finding(code="facility/unknown-word", level=findings.Level.STOP, text="pump north-1 has 'flwo', which is not a word for it", hint="write 'flow'",
                             spot=findings.Spot(file="facility.toml", line=14, column=3)),
            findings.Finding(code="intake/decimal-sign", level=ask, text="'1,234' can be read in two ways.", hint="say whether the comma is a decimal sign"),
        ],
        "doubtful": answers.Value(value=104.7, unit="%", low=104.3, high=105.1),
    }  # fmt: skip


def environment():
    """The templates as the application loads them."""
    made = jinja2.Environment(
        loader=jinja2.ChoiceLoader(
            [jinja2.DictLoader({"now": NOW, "gas": GAS, "form": FORM}), jinja2.PackageLoader("brinehouse.web", "templates")]
        ),
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    made.globals.update(static=files.address, drawing=drawing)
    return made


@functools.cache
def pages(language="en"):
    """Name to page."""
    names = {"now": "now, morning", "gas": "gas", "form": "log, one reading"}
    return {
        name: environment().get_template(name).render(
            t=catalogue.Words(language), lang="en", page=name, demo=True, facility=Some(name="Highmoor Sea Hall"),
            nav=[{"name": word, "href": f"/{word}", "current": word == name} for word in NAV],
            sheet=Some(name=sheet, as_of="2026-03-14 06:40", age="newest reading 12 min old", by="M. Orde, keeper", revision="2026-03-14/1"),
            **values(),
        )
        for name, sheet in names.items()
    }  # fmt: skip


@contextlib.contextmanager
def served(bodies):
    """The pages and the static files on loopback, under the application's own headers; gives the address."""

    class Answering(http.server.SimpleHTTPRequestHandler):
        extensions_map = {**http.server.SimpleHTTPRequestHandler.extensions_map, ".woff2": "font/woff2"}

        def do_GET(self):
            name = self.path.partition("?")[0].strip("/")
            if name in bodies:
                body = bodies[name].encode()
                self.send_response(200)
                self.send_header("content-type", "text/html; charset=utf-8")
                self.send_header("content-length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)
            else:
                super().do_GET()

        def end_headers(self):
            for key, value in guard.HEADERS:
                self.send_header(key.decode(), value.decode())
            super().end_headers()

        def translate_path(self, path):
            return str(files.folder() / path.partition("?")[0].removeprefix("/static/").lstrip("/"))

        def log_message(self, *_):
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Answering)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


if __name__ == "__main__":
    import shots

    with served(pages()) as at:
        for made in shots.shoot([f"{at}/{name}" for name in pages()], pathlib.Path(sys.argv[1])):
            print(made)
