"""Addresses of databases in the form ``postgresql://user@host/database``."""

from __future__ import annotations

from urllib.parse import quote, urlencode


def database_url(
    *,
    user: str,
    database: str,
    host: str | None = None,
    port: int | str | None = None,
    password: str | None = None,
    **options: str,
) -> str:
    """Return a URL that libpq and psycopg read; ``options`` are other libpq parameters.

    Host and port stand in the query, where a socket folder, an IPv6 address and a list of
    hosts need no special case (PostgreSQL documentation, "Connection URIs").
    """
    login = quote(user, safe="")
    if password is not None:
        login += f":{quote(password, safe='')}"
    query = {"host": host, "port": port, **options}
    given = {name: str(value) for name, value in query.items() if value not in (None, "")}
    words = urlencode(given, quote_via=quote, safe="")
    return f"postgresql://{login}@/{quote(database, safe='')}" + (f"?{words}" if words else "")
