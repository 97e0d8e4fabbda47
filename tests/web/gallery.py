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
from typing import ClassVar

import jinja2

from brinehouse import answers, findings
from brinehouse.web import catalogue, drawing, files, guard

NAV = ("now", "loop", "gas", "time in hand", "rounds", "plant", "water", "log", "hand-over")
PAGES = pathlib.Path(__file__).parent / "pages"


def _trace(start, drift, seed):
    chance = random.Random(seed)
    level = start
    out = []
    for minute in range(0, 1440, 20):
        level += drift / 72 + chance.gauss(0, abs(start) * 0.0004)
        out.append((minute / 60, None if 500 < minute < 640 and seed % 2 else level))
    return out


def _cell(value, unit, decimals, aim, drift, seed, level=None, stale=False):
    return {
        "value": value,
        "unit": unit,
        "u": None,
        "decimals": decimals,
        "level": level,
        "stale": stale,
        "trace": _trace(value - drift, drift, seed),
        "aim": aim,
    }


def values():
    """What the three pages show; all of it invented."""
    act, watch, ask = findings.Level.ACT, findings.Level.WATCH, findings.Level.ASK
    rows = [
        {
            "level": act,
            "since": "03:10",
            "what": "pipefish: gas pressure",
            "value": "104.7 %",
            "href": "#gas",
            "why": "air at the strainer of P-203; N₂ up more than O₂",
            "next": "clean the strainer, or rest P-203; look at the strainer lid",
            "who": "keeper on call, told 03:14",
        },
        {
            "level": watch,
            "since": "12 Mar",
            "what": "meter B reads 1.2 points high",
            "value": "",
            "href": "",
            "why": "swap of 11 March; air check of 12 March agrees",
            "next": "zero in dry air, or use with the correction",
            "who": "J. Lark",
        },
        {
            "level": watch,
            "since": "11 Mar",
            "what": "vat 2 will be late",
            "value": "",
            "href": "#water",
            "why": "RO is 9 % down since the new membrane",
            "next": "start the batch by 15:00 today",
            "who": "",
        },
    ]
    tanks = [
        ("mangrove", "58 m³", 25.4, 34.1, 102.9, watch, "9.4 h"),
        ("pipefish", "0.9 m³", 25.1, 34.1, 104.7, act, "1.6 h"),
        ("kelp tower", "31 m³", 13.9, 34.6, 100.6, None, "14 h"),
        ("cold bench", "2.2 m³", 13.6, 34.5, 100.9, None, "6.1 h"),
    ]
    lines = [
        {
            "name": name,
            "note": note,
            "href": f"#{name}",
            "hand": hand,
            "cells": {
                "t": _cell(t, "°C", 1, (t - 0.6, t + 0.5), 0.2, 3 * i),
                **({"s": _cell(s, "", 1, (33.5, 35.5), 0.1, 3 * i + 1, stale=i == 2)} if i != 3 else {}),
                "g": _cell(g, "%", 1, (None, 101.0), 2.0, 3 * i + 2, level),
            },
        }
        for i, (name, note, t, s, g, level, hand) in enumerate(tanks)
    ]
    column = drawing.Column
    columns = [
        column(
            name="mangrove",
            depth=2.6,
            gas=0.28,
            low=0.22,
            high=0.34,
            shallow=0.6,
            deep=2.2,
            value="102.9 ± 0.3 %",
            gas_words="gas line 0.28 ± 0.06 m",
            animal_words="animals from 0.60 m",
            href="#m",
        ),
        column(
            name="pipefish",
            depth=0.9,
            gas=0.45,
            low=0.41,
            high=0.49,
            shallow=0.2,
            deep=0.7,
            level="act",
            verdict="0.25 m too shallow",
            value="104.7 ± 0.4 %",
            gas_words="gas line 0.45 ± 0.04 m",
            animal_words="animals from 0.20 m",
        ),
        column(
            name="kelp tower",
            depth=4.2,
            gas=0.07,
            low=0.0,
            high=0.15,
            shallow=0.5,
            deep=4.0,
            value="100.6 ± 0.4 %",
            gas_words="gas line 0.07 ± 0.07 m",
            animal_words="animals from 0.50 m",
        ),
        column(
            name="cold bench",
            depth=0.6,
            gas=0.1,
            low=0.04,
            high=0.16,
            shallow=0.12,
            deep=0.4,
            level="watch",
            verdict="may be 0.04 m too shallow",
            value="100.9 ± 0.4 %",
            gas_words="gas line 0.10 ± 0.06 m",
            animal_words="animals from 0.12 m",
        ),
        column(
            name="sump-m",
            depth=1.2,
            gas=0.4,
            low=0.35,
            high=0.46,
            value="103.9 ± 0.4 %",
            gas_words="gas line 0.40 ± 0.05 m",
        ),
    ]
    curve = [(i / 2, 104.9 - 2.8 * math.exp(-i / 2 / 5.5)) for i in range(53)]
    points = [
        (float(m), round(104.9 - 2.8 * math.exp(-m / 5.5) + 0.05 * math.sin(7 * m), 1))
        for m in (0, 2, 5, 8, 12, 16, 20, 26)
    ]
    return {
        "quantities": [("t", "temperature"), ("s", "salinity"), ("g", "total gas pressure")],
        "rows": rows,
        "lines": lines,
        "columns": columns,
        "points": points,
        "curve": curve,
        "inf": math.inf,
        "meters": [
            {"label": "meter A", "value": -0.1, "low": -0.4, "high": 0.2, "note": "use it as it is"},
            {
                "label": "meter B",
                "value": 1.2,
                "low": 0.9,
                "high": 1.5,
                "level": "watch",
                "note": "zero it in dry air, or let the correction stand",
            },
        ],
        "weights": [
            (0.83, "air drawn in at a pump suction", "9 of 9 readings"),
            (0.12, "bubbles carried under at a fall", "6 of 9"),
            (0.05, "warming in pumps and lights", "3 of 9"),
        ],
        "steps": [
            answers.Step(
                name="vapour",
                equation="p_w = f(temperature, salinity)",
                inputs={"temperature": (25.1, "°C"), "salinity": (34.1, "")},
                result=23.4,
                unit="mmHg",
                source="Green and Carritt (1967)",
            ),
            answers.Step(
                name="ΔP",
                equation="ΔP = P_total − P_barometer",
                inputs={"P_total": (759.1, "mmHg"), "P_barometer": (725.0, "mmHg")},
                result=34.1,
                unit="mmHg",
                source="definition",
                note="Station pressure, not reduced to the sea",
            ),
        ],
        "table": answers.Table(
            name="water",
            title="What the water holds",
            columns=tuple(
                answers.Output(name=n, label=n, unit=u, decimals=d)
                for n, u, d in (
                    ("place", "", 0),
                    ("TGP", "%", 1),
                    ("O₂", "%", 0),
                    ("N₂+Ar", "%", 1),
                    ("ΔP", "mmHg", 0),
                )
            ),
            rows=tuple(
                {
                    "place": p,
                    "TGP": answers.Value(value=g, unit="%", u=0.2),
                    "O₂": answers.Value(value=98.0, unit="%", u=0.5),
                    "N₂+Ar": answers.Value(value=g + 1.4, unit="%", u=0.26),
                    "ΔP": d,
                }
                for p, g, d in (("mangrove", 102.9, 21.0), ("pipefish", 104.7, 34.0))
            ),
        ),
        "found": [
            findings.Finding(
                code="gas/uncompensated",
                level=act,
                text="pipefish stand above the gas line.",
                hint="lower the perch, or rest P-203",
            ),
            findings.Finding(
                code="facility/unknown-word",
                level=findings.Level.STOP,
                text="pump north-1 has 'flwo', which is not a word for it",
                hint="write 'flow'",
                spot=findings.Spot(file="facility.toml", line=14, column=3),
            ),
            findings.Finding(
                code="intake/decimal-sign",
                level=ask,
                text="'1,234' can be read in two ways.",
                hint="say whether the comma is a decimal sign",
            ),
        ],
        "doubtful": answers.Value(value=104.7, unit="%", low=104.3, high=105.1),
    }


def environment():
    """The templates as the application loads them."""
    made = jinja2.Environment(
        loader=jinja2.ChoiceLoader(
            [jinja2.FileSystemLoader(PAGES), jinja2.PackageLoader("brinehouse.web", "templates")]
        ),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals.update(static=files.address, drawing=drawing)
    return made


@functools.cache
def pages(language="en"):
    """Name to page."""
    names = {"now": "now, morning", "gas": "gas", "form": "log, one reading"}
    return {
        name: environment()
        .get_template(f"{name}.html")
        .render(
            t=catalogue.Words(language),
            lang="en",
            page=name,
            demo=True,
            facility=Some(name="Highmoor Sea Hall"),
            nav=[{"name": word, "href": f"/{word}", "current": word == name} for word in NAV],
            sheet=Some(
                name=sheet,
                as_of="2026-03-14 06:40",
                age="newest reading 12 min old",
                by="M. Orde, keeper",
                revision="2026-03-14/1",
            ),
            **values(),
        )
        for name, sheet in names.items()
    }


@contextlib.contextmanager
def served(bodies, broken=None, policy=True):
    """The pages and the static files on loopback, under the application's own headers; gives the address.

    ``broken`` maps a name to the status it answers with; ``policy=False`` leaves the headers out.
    """

    class Answering(http.server.SimpleHTTPRequestHandler):
        extensions_map: ClassVar = {
            **http.server.SimpleHTTPRequestHandler.extensions_map,
            ".woff2": "font/woff2",
        }

        def do_GET(self):
            name = self.path.partition("?")[0].strip("/")
            status = (broken or {}).get(name, 200)
            if name in bodies or status != 200:
                body = bodies.get(name, "").encode()
                self.send_response(status)
                self.send_header("content-type", "text/html; charset=utf-8")
                self.send_header("content-length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)
            else:
                super().do_GET()

        def end_headers(self):
            for key, value in guard.HEADERS if policy else ():
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
