"""The login roles of application and queue: made and kept up to date by the migration role."""

from dataclasses import dataclass
from urllib.parse import unquote, urlsplit

from psycopg import Connection, errors, sql

from slab_store.migrations.security import APPLICATION, QUEUE

_TRIES = 20


@dataclass(frozen=True, kw_only=True)
class Login:
    """User name and password of one login role, and the group that holds its rights."""

    name: str
    password: str
    group: str


def login_of(*, url: str, group: str) -> Login:
    """User name and password as they stand in a Postgres address. Raises ValueError if either is missing."""
    parts = urlsplit(url)
    if not parts.username or not parts.password:
        raise ValueError(f"the address for {group} must carry a user name and a password")
    return Login(name=unquote(parts.username), password=unquote(parts.password), group=group)


def set_up_logins(*, connection: Connection, application_url: str, queue_url: str) -> None:
    """Create or update both roles, so that exactly the addresses in the settings work.

    Raises ValueError when one user name is given for both, or for the migration role: the walls between the
    roles would be gone.
    """
    logins = (login_of(url=application_url, group=APPLICATION), login_of(url=queue_url, group=QUEUE))
    names = {login.name for login in logins} | {connection.info.user}
    if len(names) != len(logins) + 1:
        raise ValueError("application, queue and migration must be three different Postgres users")
    for group in (APPLICATION, QUEUE):
        _run(connection, sql.SQL("CREATE ROLE {} NOLOGIN").format(sql.Identifier(group)), group)
    for login in logins:
        _set_up_login(connection, login)


def _set_up_login(connection: Connection, login: Login) -> None:
    name = sql.Identifier(login.name)
    _run(connection, sql.SQL("CREATE ROLE {}").format(name), login.name)
    attributes = sql.SQL("ALTER ROLE {} LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS PASSWORD {}")
    _run(connection, attributes.format(name, sql.Literal(login.password)))
    _run(connection, sql.SQL("GRANT {} TO {}").format(sql.Identifier(login.group), name))
    database = sql.Identifier(connection.info.dbname)
    _run(connection, sql.SQL("GRANT CONNECT ON DATABASE {} TO {}").format(database, name))


def _run(connection: Connection, statement: sql.Composed, created: str | None = None) -> None:
    """Run one statement in a transaction of its own; nothing is done if the role `created` exists already.

    Roles belong to the whole server, so migrations of other databases may change them at the same moment.
    Postgres then answers "tuple concurrently updated", and the statement is simply tried again.
    """
    for attempt in range(_TRIES):
        try:
            with connection.transaction():
                if created is None or not _exists(connection, created):
                    connection.execute(statement)
                return
        except (errors.DuplicateObject, errors.UniqueViolation):
            return
        except errors.InternalError_:
            if attempt == _TRIES - 1:
                raise


def _exists(connection: Connection, role: str) -> bool:
    found = connection.execute("SELECT 1 FROM pg_catalog.pg_roles WHERE rolname = %s", (role,))
    return found.fetchone() is not None
