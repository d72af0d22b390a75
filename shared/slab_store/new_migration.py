"""`python -m slab_store.new_migration "what it adds"`: an empty migration with the next number."""

import sys
from pathlib import Path

from alembic.config import Config
from alembic.script import ScriptDirectory

MIGRATIONS = Path(__file__).parent / "migrations"


def new_migration(*, message: str, folder: Path = MIGRATIONS) -> Path:
    """Write the file of the next migration, to be filled by hand, and say where it is.

    Numbers are given one after the other, so that two branches which both add one clash in the file's name,
    not later in the database. Raises ValueError for a message that is blank.
    """
    if not message.strip():
        raise ValueError("a migration needs a message that says what it adds or changes")
    config = Config()
    config.set_main_option("script_location", str(folder).replace("%", "%%"))
    config.set_main_option("file_template", "%%(rev)s_%%(slug)s")
    scripts = ScriptDirectory.from_config(config)
    last = max((int(script.revision) for script in scripts.walk_revisions()), default=0)
    made = scripts.generate_revision(f"{last + 1:04}", message.strip(), upgrades="")
    if made is None:
        raise RuntimeError(f"no migration was written to {folder}")
    return Path(made.path)


def main() -> int:
    """Take the message from the command line and print the path of the file."""
    try:
        print(new_migration(message=" ".join(sys.argv[1:])))  # noqa: T201 - the answer to who asked
    except ValueError as problem:
        print(f"error: {problem}", file=sys.stderr)  # noqa: T201 - the same
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
