"""Every code that a client may meet stands in DEVELOPERS.md, and no other does."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from slab_api.problems import KINDS

ROOT = Path(__file__).parents[2]
SOURCES = [
    path for folder in ("shared", "services", "workers") for path in sorted((ROOT / folder).rglob("*.py"))
]
DOCUMENT = (ROOT / "DEVELOPERS.md").read_text()
ELSEWHERE = {"refuse", "refusal", "rows", "LengthRefused"}
"""Makers of problems that are used in other files than their own."""


def _literals(path: Path) -> Iterator[str]:
    """Codes written out where a problem is made, by name or by place."""
    tree = ast.parse(path.read_text())
    own = {
        node.name: [each.arg for each in node.args.args].index("code")
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef) and _takes_code(node) and _makes_a_problem(node)
    }
    makers = {"Problem", *ELSEWHERE, *own}
    for node in ast.walk(tree):
        name = getattr(getattr(node, "func", None), "id", "")
        if not isinstance(node, ast.Call) or name not in makers:
            continue
        given = [word.value for word in node.keywords if word.arg == "code"]
        if name in own:
            given += node.args[own[name] : own[name] + 1]
        yield from (str(each.value) for each in given if isinstance(each, ast.Constant))


def _takes_code(node: ast.FunctionDef) -> bool:
    return any(each.arg == "code" for each in node.args.args)


def _makes_a_problem(node: ast.FunctionDef) -> bool:
    """Whether it hands its own `code` to a problem as it is."""
    return any(
        isinstance(each, ast.Call)
        and getattr(each.func, "id", "") == "Problem"
        and any(isinstance(word.value, ast.Name) and word.arg == "code" for word in each.keywords)
        for each in ast.walk(node)
    )


def _listed() -> set[str]:
    """Codes of the two tables of what is found in a job and in its files."""
    tables = (DOCUMENT.split(head)[1].split("\n\n")[0] for head in ("| stage | codes |", "| part | codes |"))
    return {code for table in tables for code in re.findall(r"`([a-z0-9-]+)`", table)}


@pytest.mark.parametrize("code", sorted(KINDS))
def test_every_error_of_the_api_is_explained(code: str) -> None:
    kind = KINDS[code]
    assert f"| `{code}` | {kind.status} | {kind.title} |" in DOCUMENT


def test_every_problem_that_is_made_anywhere_is_listed() -> None:
    made = {code for path in SOURCES for code in _literals(path)}
    assert made - _listed() == set()
    assert {"survey-unused", "actual-repeated"} <= made, "codes given by name and by place are both seen"


def test_no_problem_is_listed_that_nobody_makes() -> None:
    source = "\n".join(path.read_text() for path in SOURCES)
    unknown = {code for code in _listed() if not _occurs(code, source)}
    assert unknown == set()


def _occurs(code: str, source: str) -> bool:
    """As a word, or put together of a part that varies and one that does not."""
    head, _, tail = code.partition("-")
    ends = [code[i:] for i in range(len(code)) if code[i] == "-"]
    starts = [f"{head}-{{", *(f"{code[: i + 1]}{{" for i in range(len(code)) if code[i] == "-")]
    whole = f'"{code}"' in source
    return whole or any(f"}}{end}" in source for end in ends) or any(s in source for s in starts) or not tail
