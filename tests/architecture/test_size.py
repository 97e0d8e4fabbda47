"""Modules stay short, and tests mirror source."""

import ast
import pathlib

import pytest

ROOT = pathlib.Path(__file__).parents[2]
MODULES = sorted((ROOT / "src" / "brinehouse").rglob("*.py"))
WALL = 600


def too_long(path):
    return len(path.read_text("utf-8").splitlines()) > WALL


def long_functions(source):
    """Functions of more than fifty lines of code; a docstring does not count."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            first = node.body[0]
            doc = first if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant) else None
            length = node.end_lineno - node.lineno + 1 - (doc.end_lineno - doc.lineno + 1 if doc else 0)
            if length > 50:
                found.append((node.name, length))
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT / "src")))
def test_no_module_is_over_the_wall(path):
    assert not too_long(path)


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT / "src")))
def test_no_function_is_over_fifty_lines(path):
    assert long_functions(path.read_text("utf-8")) == []


def test_the_measure_bites(tmp_path):
    page = tmp_path / "long.py"
    page.write_text("x = 1\n" * (WALL + 1))
    assert too_long(page)
    body = "\n".join("    x = 1" for _ in range(60))
    assert long_functions(f"def f():\n{body}\n") == [("f", 61)]
