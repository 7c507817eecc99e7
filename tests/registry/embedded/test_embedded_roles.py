"""The roles have the rights they need and none besides, on either kind of server."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator

import psycopg
import pytest
from psycopg import errors, sql
from psycopg.conninfo import conninfo_to_dict

from registry.embedded.postgres import EmbeddedPostgres
from registry.embedded.roles import DatabaseUrls, prepare_roles
from registry.embedded.urls import database_url

Connection = psycopg.Connection[tuple[object, ...]]
Names = dict[str, str]
# Another server to try, given as the URL of an administrator.
OTHER_SERVER = os.environ.get("ADMINISTRATOR_URL")


@pytest.fixture(scope="module", params=["embedded", "given by URL"])
def administrator_url(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    if request.param == "embedded":
        data = tmp_path_factory.mktemp("roles") / "data"
        with EmbeddedPostgres(data, durable=False) as server:
            yield server.url("postgres", "postgres")
    elif OTHER_SERVER is None:
        pytest.skip("ADMINISTRATOR_URL names no other server")
    else:
        yield OTHER_SERVER


@pytest.fixture(scope="module")
def names(administrator_url: str) -> Iterator[Names]:
    """Names that no other run uses; what bears them is removed afterwards."""
    mark = secrets.token_hex(4)
    names = {"application_role": f"app {mark}", "owner_role": f"owner_{mark}"}
    yield {**names, "database": f"data-{mark}"}
    with psycopg.connect(administrator_url, autocommit=True) as connection:
        drop = sql.SQL("DROP DATABASE IF EXISTS {}")
        connection.execute(drop.format(sql.Identifier(f"data-{mark}")))
        for role in names.values():
            connection.execute(sql.SQL("DROP ROLE IF EXISTS {}").format(sql.Identifier(role)))


@pytest.fixture(scope="module")
def urls(administrator_url: str, names: Names) -> DatabaseUrls:
    prepare_roles(administrator_url, password="a pass:word/", **names)
    # The second time finds everything there.
    return prepare_roles(administrator_url, password="a pass:word/", **names)


@pytest.fixture
def application(urls: DatabaseUrls) -> Iterator[Connection]:
    with psycopg.connect(urls.application) as connection:
        yield connection


@pytest.fixture
def owner(urls: DatabaseUrls) -> Iterator[Connection]:
    with psycopg.connect(urls.owner) as connection:
        yield connection
        connection.rollback()


def test_the_application_has_no_special_right(application: Connection, names: Names) -> None:
    row = application.execute(
        "SELECT current_user, rolcanlogin, rolsuper, rolcreatedb, rolcreaterole, rolbypassrls,"
        " rolreplication FROM pg_roles WHERE rolname = current_user"
    ).fetchone()

    assert row == (names["application_role"], True, False, False, False, False, False)


def test_the_owner_may_make_databases_and_is_no_superuser(owner: Connection, names: Names) -> None:
    row = owner.execute(
        "SELECT current_user, rolcanlogin, rolsuper, rolcreatedb FROM pg_roles"
        " WHERE rolname = current_user"
    ).fetchone()

    assert row == (names["owner_role"], True, False, True)


def test_the_database_is_the_owners_in_utf8_and_the_c_locale(
    owner: Connection, names: Names
) -> None:
    row = owner.execute(
        "SELECT datname, datdba::regrole::text, pg_encoding_to_char(encoding), datcollate,"
        " datctype FROM pg_database WHERE datname = current_database()"
    ).fetchone()

    assert row == (names["database"], names["owner_role"], "UTF8", "C", "C")


def test_the_application_cannot_make_a_table_in_public(application: Connection) -> None:
    with pytest.raises(errors.InsufficientPrivilege, match="schema public"):
        application.execute("CREATE TABLE public.mine (a integer)")


def test_the_application_cannot_make_a_schema(application: Connection) -> None:
    with pytest.raises(errors.InsufficientPrivilege):
        application.execute("CREATE SCHEMA mine")


def test_the_application_can_make_a_temporary_table(application: Connection) -> None:
    application.execute("CREATE TEMPORARY TABLE mine (a integer)")

    assert application.execute("SELECT count(*) FROM mine").fetchone() == (0,)


def test_the_application_cannot_become_the_owner(application: Connection, names: Names) -> None:
    with pytest.raises(errors.InsufficientPrivilege):
        application.execute(sql.SQL("SET ROLE {}").format(sql.Identifier(names["owner_role"])))


def test_the_application_cannot_read_what_nobody_granted(
    urls: DatabaseUrls, application: Connection
) -> None:
    with psycopg.connect(urls.owner, autocommit=True) as owner:
        owner.execute("CREATE TABLE secret AS SELECT 1 AS a")

    with pytest.raises(errors.InsufficientPrivilege):
        application.execute("SELECT a FROM secret")


def test_row_security_holds_for_the_application(urls: DatabaseUrls, names: Names) -> None:
    with psycopg.connect(urls.owner, autocommit=True) as owner:
        owner.execute("CREATE TABLE visible AS SELECT generate_series(1, 3) AS clinic")
        owner.execute("ALTER TABLE visible ENABLE ROW LEVEL SECURITY")
        owner.execute("CREATE POLICY one_clinic ON visible USING (clinic = 2)")
        grant = sql.SQL("GRANT SELECT ON visible TO {}")
        owner.execute(grant.format(sql.Identifier(names["application_role"])))

    with psycopg.connect(urls.application) as application:
        rows = application.execute("SELECT clinic FROM visible").fetchall()
        # With the setting off a query that rows would be hidden from is an error
        # (documentation of row_security), unless the role may bypass the policies.
        application.execute("SET row_security = off")
        with pytest.raises(errors.InsufficientPrivilege, match="row-level security"):
            application.execute("SELECT clinic FROM visible")

    assert rows == [(2,)]


def test_rights_given_meanwhile_are_taken_back(
    administrator_url: str, names: Names, urls: DatabaseUrls
) -> None:
    role = sql.Identifier(names["application_role"])
    with psycopg.connect(administrator_url, autocommit=True) as connection:
        connection.execute(sql.SQL("ALTER ROLE {} SUPERUSER BYPASSRLS CREATEROLE").format(role))

    prepare_roles(administrator_url, password=None, **names)

    with psycopg.connect(urls.application) as application:
        row = application.execute(
            "SELECT rolsuper, rolbypassrls, rolcreaterole FROM pg_roles"
            " WHERE rolname = current_user"
        ).fetchone()
    assert row == (False, False, False)


def test_the_password_is_kept_as_a_scram_hash(
    administrator_url: str, names: Names, urls: DatabaseUrls
) -> None:
    with psycopg.connect(administrator_url) as connection:
        stored = connection.execute(
            "SELECT rolname, left(rolpassword, 14) FROM pg_authid WHERE rolname = ANY(%s)"
            " ORDER BY rolname",
            [[names["application_role"], names["owner_role"]]],
        ).fetchall()

    assert stored == [
        (names["application_role"], "SCRAM-SHA-256$"),
        (names["owner_role"], None),
    ]


def test_the_urls_carry_names_and_password_and_hide_in_a_traceback(
    urls: DatabaseUrls, names: Names
) -> None:
    parts = conninfo_to_dict(urls.application)

    assert parts["user"] == names["application_role"]
    assert parts["dbname"] == names["database"]
    assert parts["password"] == "a pass:word/"
    assert "password" not in conninfo_to_dict(urls.owner)
    assert "pass" not in repr(urls)


def test_an_administrator_who_is_no_superuser_is_enough(
    administrator_url: str, names: Names
) -> None:
    mark = secrets.token_hex(4)
    mine = {"application_role": f"a{mark}", "owner_role": f"o{mark}", "database": f"d{mark}"}
    with psycopg.connect(administrator_url, autocommit=True) as connection:
        connection.execute(f"CREATE ROLE adm{mark} LOGIN CREATEROLE CREATEDB".encode())
    parts = conninfo_to_dict(administrator_url)
    url = database_url(
        user=f"adm{mark}", database="postgres", host=str(parts["host"]), port=str(parts["port"])
    )

    try:
        prepare_roles(url, password=None, **mine)
        urls = prepare_roles(url, password=None, **mine)

        with (
            psycopg.connect(urls.application) as application,
            pytest.raises(errors.InsufficientPrivilege),
        ):
            application.execute("CREATE TABLE public.mine (a integer)")
    finally:
        with psycopg.connect(administrator_url, autocommit=True) as connection:
            connection.execute(f"DROP DATABASE IF EXISTS d{mark}".encode())
            for role in (f"a{mark}", f"o{mark}", f"adm{mark}"):
                connection.execute(f"DROP OWNED BY {role}".encode())
                connection.execute(f"DROP ROLE {role}".encode())


@pytest.mark.parametrize(
    ("host", "url"),
    [
        ("localhost", "postgresql://a%20b@localhost:5432/d%2Fe?sslmode=disable"),
        ("/run/a b", "postgresql://a%20b@/d%2Fe?host=%2Frun%2Fa%20b&port=5432&sslmode=disable"),
        ("::1", "postgresql://a%20b@/d%2Fe?host=%3A%3A1&port=5432&sslmode=disable"),
    ],
)
def test_every_kind_of_host_is_read_back_by_libpq(host: str, url: str) -> None:
    made = database_url(user="a b", database="d/e", host=host, port=5432, sslmode="disable")

    assert made == url
    assert conninfo_to_dict(made) == {
        "user": "a b",
        "dbname": "d/e",
        "host": host,
        "port": "5432",
        "sslmode": "disable",
    }
