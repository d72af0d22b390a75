"""Every setting is explained where people look for it, and does something."""

import re
from dataclasses import fields
from pathlib import Path

import pytest

from slab_base.settings import PREFIX, Settings, settings_table

ROOT = Path(__file__).parents[2]
SOURCE = [path for name in ("shared", "services", "workers") for path in sorted((ROOT / name).rglob("*.py"))]
DEFINED = ROOT / "shared" / "slab_base" / "settings.py"


def test_the_table_in_developers_md_is_the_table_of_the_settings() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text()
    assert settings_table() in text, f"DEVELOPERS.md lacks this table, word for word:\n\n{settings_table()}"


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md", "docker-compose.yml", "deploy/env.example"])
def test_no_document_names_a_setting_that_does_not_exist(name: str) -> None:
    known = {PREFIX + field.name.upper() for field in fields(Settings)}
    named = set(re.findall(rf"\b{PREFIX}[A-Z_]*[A-Z]\b", (ROOT / name).read_text()))
    assert named - known == set()


@pytest.mark.parametrize("name", [field.name for field in fields(Settings)])
def test_every_setting_is_used_somewhere(name: str) -> None:
    use = re.compile(rf"\.{name}\b|need\(\"{name}\"\)")
    within = [
        DEFINED.read_text().partition("class Settings")[2],
        *(p.read_text() for p in SOURCE if p != DEFINED),
    ]
    assert any(use.search(text) for text in within), (
        f"nothing reads the setting {name}: it would be set in vain"
    )
