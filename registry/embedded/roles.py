"""The database and its two roles: one that owns the tables, one the application uses.

The application's role owns nothing and may not pass row security, so a mistake in a query
cannot show one clinic's rows to another.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import psycopg
from psycopg import sql
from psycopg.conninfo import conninfo_to_dict

from registry.embedded.urls import database_url

OWNER_ROLE = "registry_owner"
# Two processes that prepare the same server at once would collide in the catalogues.
LOCK_KEY = 0x7265676973747279  # "registry"
OWNER_RIGHTS = {"rolsuper": False, "rolcreatedb": True, "rolcreaterole": False}
APPLICATION_RIGHTS = {
    "rolsuper": False,
    "rolcreatedb": False,
    "rolcreaterole": False,
    "rolbypassrls": False,
    "rolreplication": False,
}
WORDS = {
    "rolsuper": "SUPERUSER",
    "rolcreatedb": "CREATEDB",
    "rolcreaterole": "CREATEROLE",
    "rolbypassrls": "BYPASSRLS",
    "rolreplication": "REPLICATION",
    "rolcanlogin": "LOGIN",
}

NO_SUPERUSER = """
    SELECT FROM pg_roles WHERE rolname = current_user AND NOT rolsuper AND rolname <> %s
"""

Connection = psycopg.Connection[tuple[object, ...]]


@dataclass(frozen=True, slots=True)
class DatabaseUrls:
    """The URLs of one database for its two roles; a password never shows in a traceback."""

    application: str = field(repr=False)
    owner: str = field(repr=False)


def prepare_roles(
    owner_url: str,
    *,
    application_role: str,
    password: str | None,
    database: str,
    owner_role: str = OWNER_ROLE,
    owner_password: str | None = None,
) -> DatabaseUrls:
    """Create what is missing of roles and database, set their rights, return both URLs.

    ``owner_url`` is of an administrator, any database of the server; it needs SUPERUSER, or
    CREATEROLE and CREATEDB. Called again it changes nothing. A password of ``None`` is left
    as it is, for servers that trust the socket.

    :raises psycopg.Error: when the server refuses; nothing is undone then, call it again.
    """
    with psycopg.connect(owner_url, autocommit=True) as administrator:
        administrator.execute("SELECT pg_advisory_lock(%s)", [LOCK_KEY])
        _role(administrator, owner_role, OWNER_RIGHTS, owner_password)
        _role(administrator, application_role, APPLICATION_RIGHTS, password)
        _database(administrator, database, owner_role)
        _run(
            administrator,
            "GRANT CONNECT, TEMPORARY ON DATABASE {} TO {}",
            database,
            application_role,
        )
        with psycopg.connect(owner_url, dbname=database, autocommit=True) as inside:
            _run(inside, "REVOKE CREATE ON SCHEMA public FROM PUBLIC")
            _run(inside, "GRANT CREATE, USAGE ON SCHEMA public TO {}", owner_role)
            _run(inside, "REVOKE CREATE ON SCHEMA public FROM {}", application_role)
            _run(inside, "GRANT USAGE ON SCHEMA public TO {}", application_role)
    return DatabaseUrls(
        application=_url_for(owner_url, application_role, password, database),
        owner=_url_for(owner_url, owner_role, owner_password, database),
    )


def _role(connection: Connection, name: str, rights: dict[str, bool], password: str | None) -> None:
    wanted = {**rights, "rolcanlogin": True}
    if not _exists(connection, "SELECT FROM pg_roles WHERE rolname = %s", name):
        _run(
            connection,
            "CREATE ROLE {} LOGIN" + (" CREATEDB" if rights["rolcreatedb"] else ""),
            name,
        )
    row = connection.execute(
        sql.SQL("SELECT {} FROM pg_roles WHERE rolname = %s").format(
            sql.SQL(", ").join(map(sql.Identifier, wanted))
        ),
        [name],
    ).fetchone()
    # Only what differs is named: an administrator who is no superuser may not even say
    # NOSUPERUSER of a role that is none.
    for (column, value), found in zip(wanted.items(), row or (), strict=True):
        if found != value:
            _run(connection, f"ALTER ROLE {{}} {'' if value else 'NO'}{WORDS[column]}", name)
    if password is not None:
        _set_password(connection, name, password)


def _set_password(connection: Connection, name: str, password: str) -> None:
    # Hashed here, so that the password itself reaches neither the wire nor the server's log.
    hashed = connection.pgconn.encrypt_password(
        password.encode(), name.encode(), b"scram-sha-256"
    ).decode()
    connection.execute(
        sql.SQL("ALTER ROLE {} PASSWORD {}").format(sql.Identifier(name), sql.Literal(hashed))
    )


def _database(connection: Connection, name: str, owner_role: str) -> None:
    if _exists(connection, "SELECT FROM pg_database WHERE datname = %s", name):
        return
    if _exists(connection, NO_SUPERUSER, owner_role):
        # Only who may act as a role may make it the owner of something.
        _run(connection, "GRANT {} TO CURRENT_USER", owner_role)
    _run(
        connection,
        "CREATE DATABASE {} OWNER {} TEMPLATE template0"
        " ENCODING 'UTF8' LC_COLLATE 'C' LC_CTYPE 'C'",
        name,
        owner_role,
    )


def _exists(connection: Connection, query: str, name: str) -> bool:
    return connection.execute(query.encode(), [name]).fetchone() is not None


def _run(connection: Connection, statement: str, *names: str) -> None:
    """Run a statement whose ``{}`` are names of roles and databases, quoted as such."""
    text = sql.SQL(statement)
    connection.execute(text.format(*map(sql.Identifier, names)))


def _url_for(url: str, user: str, password: str | None, database: str) -> str:
    parts = {name: str(value) for name, value in conninfo_to_dict(url).items()}
    for name in ("user", "password", "dbname"):
        parts.pop(name, None)
    host, port = parts.pop("host", None), parts.pop("port", None)
    return database_url(
        user=user, password=password, database=database, host=host, port=port, **parts
    )
