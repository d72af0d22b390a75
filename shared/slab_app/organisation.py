"""`python -m slab_app.organisation`: make organisations and keys from the command line.

    python -m slab_app.organisation create --name "Level Best Floors"
    python -m slab_app.organisation key --organisation ID --role field-device --label "tablet 3"
    python -m slab_app.organisation revoke --organisation ID --key KEY-ID

A new key is the one line written to standard output; it is shown this once and cannot be shown again.
"""

import argparse
import sys
from uuid import UUID

from slab_app.actions.keys import add_key
from slab_app.actions.organisations import create_organisation
from slab_app.keys import KeyText
from slab_app.scopes import ROLE_SCOPES, UnknownScope
from slab_base.clock import now_utc
from slab_base.ids import InvalidIdError, new_id, parse_id
from slab_base.setting_fields import SettingError
from slab_base.settings import load_settings
from slab_store.database import Database
from slab_store.errors import StoreError


def main(arguments: list[str] | None = None) -> int:
    """Do what the arguments say; the answer is the exit code."""
    options = _parser().parse_args(arguments)
    try:
        database = Database(application_url=load_settings().need("database_url"), pool_size=1)
        try:
            sys.stdout.write(_run(database, options))
        finally:
            database.close()
    except (SettingError, StoreError, UnknownScope) as problem:
        sys.stderr.write(f"{problem}\n")
        return 2
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m slab_app.organisation")
    commands = parser.add_subparsers(dest="command", required=True)
    create = commands.add_parser("create", help="a new organisation with an office key")
    create.add_argument("--name", required=True)
    create.add_argument("--id", type=_id, default=None)
    key = commands.add_parser("key", help="one more key of an organisation")
    key.add_argument("--organisation", type=_id, required=True)
    key.add_argument("--role", choices=sorted(ROLE_SCOPES), required=True)
    key.add_argument("--label", default="")
    key.add_argument("--scope", action="append", default=[], help="narrow the key to these scopes")
    revoke = commands.add_parser("revoke", help="end a key now")
    revoke.add_argument("--organisation", type=_id, required=True)
    revoke.add_argument("--key", required=True, help="the public part of the key, without the secret")
    return parser


def _run(database: Database, options: argparse.Namespace) -> str:
    if options.command == "create":
        return _line(create(database, name=options.name, organisation=options.id))
    with database.for_organisation(options.organisation) as uow:
        if options.command == "key":
            return _line(add_key(uow, role=options.role, label=options.label, scopes=options.scope))
        ended = uow.keys.revoke(key_id=options.key, now=now_utc())
        uow.commit()
        return "revoked\n" if ended else "there is no live key with this id\n"


def create(database: Database, *, name: str, organisation: UUID | None = None) -> KeyText:
    """A new organisation with its first key."""
    with database.for_organisation(organisation or new_id()) as uow:
        return create_organisation(uow, name=name)


def _line(key: KeyText) -> str:
    return f"{key.text()}\n"


def _id(text: str) -> UUID:
    try:
        return parse_id(text)
    except InvalidIdError as problem:
        raise argparse.ArgumentTypeError(str(problem)) from None


if __name__ == "__main__":
    sys.exit(main())
