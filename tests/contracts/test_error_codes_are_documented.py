"""Every code that a client may meet stands in DEVELOPERS.md, and no other does."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from slab_api.problems import KINDS

ROOT = Path(__file__).parents[2]
CORE = ROOT / "shared" / "slab_core"
DOCUMENT = (ROOT / "DEVELOPERS.md").read_text()
MAKERS = {"Problem", "refuse", "refusal", "rows", "LengthRefused"}


def _literals() -> Iterator[str]:
    """Codes written out where a problem is made."""
    for path in CORE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in MAKERS:
                for word in node.keywords:
                    if word.arg == "code" and isinstance(word.value, ast.Constant):
                        yield str(word.value.value)


def _listed() -> set[str]:
    """Codes of the table of stages."""
    table = DOCUMENT.split("| stage | codes |")[1].split("\n\n")[0]
    return set(re.findall(r"`([a-z0-9-]+)`", table))


@pytest.mark.parametrize("code", sorted(KINDS))
def test_every_error_of_the_api_is_explained(code: str) -> None:
    kind = KINDS[code]
    assert f"| `{code}` | {kind.status} | {kind.title} |" in DOCUMENT


def test_every_problem_of_the_core_is_listed() -> None:
    assert set(_literals()) - _listed() == set()


def test_no_problem_is_listed_that_the_core_does_not_know() -> None:
    source = "\n".join(path.read_text() for path in CORE.rglob("*.py"))
    unknown = {code for code in _listed() if not _occurs(code, source)}
    assert unknown == set()


def _occurs(code: str, source: str) -> bool:
    """As a word, or put together of a part that varies and one that does not."""
    head, _, tail = code.partition("-")
    ends = [code[i:] for i in range(len(code)) if code[i] == "-"]
    starts = [f"{head}-{{", *(f"{code[: i + 1]}{{" for i in range(len(code)) if code[i] == "-")]
    whole = f'"{code}"' in source
    return whole or any(f"}}{end}" in source for end in ends) or any(s in source for s in starts) or not tail
