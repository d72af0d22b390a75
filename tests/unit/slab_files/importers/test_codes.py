"""Every code that a file may be refused with stands in DEVELOPERS.md, and no other does."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[4]


def test_the_codes_of_files_and_the_table_of_them_agree() -> None:
    source = "\n".join(path.read_text() for path in (ROOT / "shared/slab_files/importers").glob("*.py"))
    table = (ROOT / "DEVELOPERS.md").read_text().split("| part | codes |")[1].split("\n\n")[0]
    made = set(re.findall(r'code ?= ?"([a-z0-9-]+)"', source))
    assert made == set(re.findall(r"`([a-z0-9-]+)`", table))
    assert len(made) > 8
