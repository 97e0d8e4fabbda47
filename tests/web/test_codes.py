"""Square codes: one module a cell, a quiet edge, and no word of what they hold in the page's own marks."""

import re

from brinehouse.web import codes


def test_a_square_code_is_drawn_without_style_or_script():
    drawn = str(codes.drawn("https://hall.example/t/K7QM?<script>"))
    assert drawn.startswith("<svg")
    assert "style=" not in drawn
    assert "script" not in drawn


def test_a_square_code_keeps_the_quiet_edge_that_readers_need():
    # ISO/IEC 18004: four modules all round. Version 2 (up to 26 bytes at level M) is 25 modules wide.
    drawn = str(codes.drawn("https://hall.local/t/K7QM"))
    assert re.search(r'viewBox="0 0 33 33"', drawn)
    dark = re.search(r'<path[^>]*stroke="#000"[^>]*d="M4 4\.5h7', drawn)
    assert dark, "the first finder pattern begins after four light modules and is seven wide"
