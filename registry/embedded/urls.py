"""Addresses of databases in the form ``postgresql://user@host/database``."""

from __future__ import annotations

import re
from collections.abc import Mapping
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

    What is more than one host name, a socket folder or a list of hosts for example, stands in
    the query, where it needs no special case (PostgreSQL documentation, "Connection URIs").
    """
    place = quote(user, safe="")
    if password is not None:
        place += f":{quote(password, safe='')}"
    place += "@"
    query: Mapping[str, object] = {"host": host, "port": port, **options}
    if host and re.fullmatch(r"[A-Za-z0-9.-]+", host):
        place += f"{host}:{port}" if port else host
        query = options
    given = {name: str(value) for name, value in query.items() if value not in (None, "")}
    words = urlencode(given, quote_via=quote, safe="")
    return f"postgresql://{place}/{quote(database, safe='')}" + (f"?{words}" if words else "")
