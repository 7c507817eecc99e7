"""Rows into tables, in bulk: staged by COPY, then inserted under row-level security.

``COPY`` into a table with row security is refused by PostgreSQL, and switching the security
off for speed would take the wall down for exactly the path that carries the most rows. So many
rows are copied into a temporary table of the connection and inserted from there, as the same
powerless role, with every constraint in force.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.db import connection, models
from psycopg import sql

# Below this a staging table costs more than it saves (two round trips against one).
FEW_ROWS = 40


def columns_of(model: type[models.Model]) -> tuple[str, ...]:
    """The real columns of a table, in the model's order; composite keys have none."""
    return tuple(
        field.column
        for field in model._meta.concrete_fields
        if field.column and not isinstance(field, models.CompositePrimaryKey)
    )


def insert_rows(
    model: type[models.Model],
    rows: Sequence[Mapping[str, Any]],
    *,
    returning: str | None = None,
) -> list[Any]:
    """Insert all rows at once; rows that a unique constraint already holds are left out.

    ``rows`` are mappings of column to value, all of the same columns. With ``returning`` the
    values of that column come back for the rows that were really inserted; without it, a row
    that is already there is an error of the database.
    """
    if not rows:
        return []
    columns = [name for name in columns_of(model) if name in rows[0]]
    values = [[row[name] for name in columns] for row in rows]
    table = model._meta.db_table
    if len(values) < FEW_ROWS:
        return _insert_values(table, columns, values, returning)
    return _insert_staged(table, columns, values, returning)


def refresh_young_statistics() -> None:
    """Tell the planner how large the tables have become, while they are new to it.

    Without it the first large file of a registry takes time with the square of its length.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT registry_refresh_young_statistics()")


def _insert_values(
    table: str, columns: list[str], values: list[list[Any]], returning: str | None
) -> list[Any]:
    one = sql.SQL("({})").format(sql.SQL(", ").join(sql.Placeholder() * len(columns)))
    statement = sql.SQL("{} VALUES {}{}").format(
        _insert_into(table, columns),
        sql.SQL(", ").join([one] * len(values)),
        _on_conflict(returning),
    )
    return _run(statement, [value for row in values for value in row], returning)


def _insert_staged(
    table: str, columns: list[str], values: list[list[Any]], returning: str | None
) -> list[Any]:
    stage = sql.Identifier(f"stage_{table}")
    names = sql.SQL(", ").join(map(sql.Identifier, columns))
    with connection.cursor() as cursor:
        # As the query's columns, not LIKE the table: that would ask for generated ids too. Emptied
        # at the end, since a pooled connection would keep the rows beyond an erasure.
        cursor.execute(
            sql.SQL(
                "CREATE TEMPORARY TABLE IF NOT EXISTS {} ON COMMIT DELETE ROWS"
                " AS TABLE {} WITH NO DATA"
            ).format(stage, sql.Identifier(table))
        )
        # The transaction may have staged an earlier chunk.
        cursor.execute(sql.SQL("TRUNCATE {}").format(stage))
        with cursor.copy(sql.SQL("COPY {} ({}) FROM STDIN").format(stage, names)) as copy:
            for row in values:
                copy.write_row(row)
    statement = sql.SQL("{} SELECT {} FROM {}{}").format(
        _insert_into(table, columns), names, stage, _on_conflict(returning)
    )
    return _run(statement, [], returning)


def _insert_into(table: str, columns: list[str]) -> sql.Composed:
    names = sql.SQL(", ").join(map(sql.Identifier, columns))
    return sql.SQL("INSERT INTO {} ({})").format(sql.Identifier(table), names)


def _on_conflict(returning: str | None) -> sql.Composable:
    if returning is None:
        return sql.SQL("")
    return sql.SQL(" ON CONFLICT DO NOTHING RETURNING {}").format(sql.Identifier(returning))


def _run(statement: sql.Composed, parameters: list[Any], returning: str | None) -> list[Any]:
    with connection.cursor() as cursor:
        cursor.execute(statement, parameters)
        return [row[0] for row in cursor.fetchall()] if returning else []
