"""The walls between organisations, read from the catalogue so that no table can be forgotten."""

from collections.abc import Iterator
from uuid import UUID

import psycopg
import pytest
from psycopg import errors, sql

from slab_base.ids import new_id
from slab_store.database import Database
from slab_store.migrate import migrate
from slab_store.roles import login_of
from tests.support.databases import FreshDatabase
from tests.support.runs import Firm, found_firm

# Every table that is not an organisation's, with the reason.
OPEN_TABLES = {"alembic_version": "one row: the version of the tables"}
# What the queue role may touch. Anything more would show it content.
QUEUE_TABLES = {"outbox", "run_steps", "queue_turns", "idempotency_keys"}
QUEUE_HIDDEN_COLUMNS = {
    "run_steps": {"error", "digest", "pending", "ms", "finished_at"},
    "idempotency_keys": {"fingerprint", "status", "headers", "body", "resource", "created_by"},
}

_TABLES = """
    SELECT c.relname, c.relrowsecurity, c.relforcerowsecurity, pg_get_userbyid(c.relowner) AS owner
    FROM pg_class c WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'p', 'v', 'm')
"""


@pytest.fixture
def owner(shared_database: FreshDatabase) -> Iterator[psycopg.Connection]:
    """A connection as the role that owns the tables."""
    with psycopg.connect(shared_database.migration_url, autocommit=True) as connection:
        yield connection


def test_every_table_has_forced_row_level_security_or_is_on_the_list(owner: psycopg.Connection) -> None:
    bare = {name for name, enabled, forced, _ in owner.execute(_TABLES) if not (enabled and forced)}
    assert bare == set(OPEN_TABLES)


def test_every_table_of_an_organisation_has_exactly_the_tenant_policy(owner: psycopg.Connection) -> None:
    rows = owner.execute("SELECT tablename, policyname, roles, qual, with_check FROM pg_policies").fetchall()
    tables = {name for name, *_ in owner.execute(_TABLES)} - set(OPEN_TABLES)
    tenant = {table: (qual, check) for table, policy, _, qual, check in rows if policy == "tenant"}
    assert set(tenant) == tables
    for table, (qual, check) in tenant.items():
        column = "id" if table == "organisations" else "organisation"
        assert qual == check == f"({column} = slabwright_organisation())", table
    others = {(table, policy, roles[0]) for table, policy, roles, *_ in rows if policy != "tenant"}
    assert others == {(table, "queue", "slabwright_queue") for table in QUEUE_TABLES}


def test_every_unique_key_begins_with_the_organisation(owner: psycopg.Connection) -> None:
    rows = owner.execute("""
        SELECT t.relname, a.attname FROM pg_index i
        JOIN pg_class t ON t.oid = i.indrelid AND t.relnamespace = 'public'::regnamespace
        JOIN pg_attribute a ON a.attrelid = t.oid AND a.attnum = i.indkey[0]
        WHERE i.indisunique
    """)
    firsts = {(table, column) for table, column in rows if table not in OPEN_TABLES}
    assert {column for table, column in firsts if table != "organisations"} == {"organisation"}


def test_application_and_queue_role_own_nothing_and_cannot_bypass(owner: psycopg.Connection) -> None:
    roles = owner.execute(
        "SELECT rolname, rolsuper, rolbypassrls, rolcreaterole, rolcreatedb FROM pg_roles"
        " WHERE rolname IN ('slab_app', 'slab_queue', 'slabwright_application', 'slabwright_queue')"
    ).fetchall()
    assert len(roles) == 4
    assert all(not any(rights) for _, *rights in roles)
    owners = {owner_name for *_, owner_name in owner.execute(_TABLES)}
    assert owners.isdisjoint({name for name, *_ in roles})


def test_the_queue_role_reads_only_its_tables_and_no_content(owner: psycopg.Connection) -> None:
    rows = owner.execute("""
        SELECT table_name, column_name FROM information_schema.column_privileges
        WHERE grantee = 'slabwright_queue' AND privilege_type = 'SELECT'
    """).fetchall()
    assert {table for table, _ in rows} == QUEUE_TABLES
    for table, hidden in QUEUE_HIDDEN_COLUMNS.items():
        assert hidden.isdisjoint({column for name, column in rows if name == table})


@pytest.mark.parametrize("setting", [None, ""])
def test_a_query_without_an_organisation_raises(
    shared_database: FreshDatabase, owner: psycopg.Connection, setting: str | None
) -> None:
    tables = {name for name, *_ in owner.execute(_TABLES)} - set(OPEN_TABLES)
    readable = {
        table
        for table in tables
        if owner.execute("SELECT has_table_privilege('slab_app', %s, 'SELECT')", (table,)).fetchone()[0]
    }
    assert {"runs", "run_steps", "stage_results", "api_keys"} <= readable
    with psycopg.connect(shared_database.app_url, autocommit=True) as connection:
        if setting is not None:
            connection.execute("SELECT set_config('slabwright.organisation', %s, false)", (setting,))
        for table in readable:
            with pytest.raises(errors.InsufficientPrivilege, match="no organisation is set"):
                connection.execute(sql.SQL("SELECT * FROM {}").format(sql.Identifier(table)))


def test_the_organisation_does_not_outlast_its_transaction(database: Database, firm: Firm) -> None:
    with database.for_organisation(firm.id) as uow:
        assert uow.organisations.get() is not None
        uow.commit()
    with (
        database.application_engine.connect() as connection,
        pytest.raises(Exception, match="no organisation"),
    ):
        connection.exec_driver_sql("SELECT * FROM runs")


def test_another_organisations_rows_are_neither_seen_nor_changed(database: Database, firm: Firm) -> None:
    run_id = firm.post()
    other = found_firm(database)
    with database.for_organisation(other.id) as uow:
        assert uow.runs.get(run_id=run_id) is None
        assert uow.runs.input(run_id=run_id) is None
        assert uow.runs.steps(run_id=run_id) == ()
        assert not uow.runs.cancel(run_id=run_id, actor="other")
        uow.commit()
    assert firm.run(run_id).state == "queued"


def test_row_level_security_holds_without_the_repositories_filters(database: Database, firm: Firm) -> None:
    firm.post()
    other = found_firm(database)
    with database.for_organisation(other.id) as uow:
        assert uow.connection.execute("SELECT count(*) FROM runs").fetchone() == (0,)
        changed = uow.connection.execute("UPDATE runs SET state = 'failed'")
        assert changed.rowcount == 0


def test_a_row_cannot_be_written_into_another_organisation(database: Database, firm: Firm) -> None:
    stolen: UUID = new_id()
    with pytest.raises(Exception, match="row-level security"), database.for_organisation(firm.id) as uow:
        uow.connection.execute(
            "INSERT INTO api_keys (organisation, id, secret_sha256, role)"
            " VALUES (%s, 'x', sha256('x'), 'office')",
            (stolen,),
        )


def test_the_input_of_a_run_cannot_be_changed(database: Database, firm: Firm) -> None:
    run_id = firm.post()
    with pytest.raises(Exception, match="permission denied"), database.for_organisation(firm.id) as uow:
        uow.connection.execute("UPDATE run_inputs SET json = ''")
    assert firm.run(run_id).state == "queued"


def test_migrating_again_changes_nothing_and_takes_new_passwords(fresh_database: FreshDatabase) -> None:
    login = login_of(url=fresh_database.app_url, group="")
    urls = {
        "migration_url": fresh_database.migration_url,
        "application_url": fresh_database.app_url,
        "queue_url": fresh_database.queue_url,
    }
    migrate(**urls)
    another = fresh_database.app_url.replace(f"{login.name}:{login.password}", "slab_app_2:other")
    migrate(**{**urls, "application_url": another})
    with psycopg.connect(another) as connection:
        connection.execute("SELECT set_config('slabwright.organisation', %s, true)", (str(new_id()),))
        assert connection.execute("SELECT count(*) FROM runs").fetchone() == (0,)


@pytest.mark.parametrize(
    "change",
    [
        {"queue_url": "app_url"},
        {"application_url": "migration_url"},
    ],
)
def test_one_user_for_two_roles_is_refused(shared_database: FreshDatabase, change: dict[str, str]) -> None:
    urls = {
        "migration_url": shared_database.migration_url,
        "application_url": shared_database.app_url,
        "queue_url": shared_database.queue_url,
    }
    urls |= {key: getattr(shared_database, value) for key, value in change.items()}
    with pytest.raises(ValueError, match="three different Postgres users"):
        migrate(**urls)
