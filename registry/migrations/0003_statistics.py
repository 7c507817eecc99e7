"""What the planner knows of tables that were filled a moment ago.

A session plans the check of a foreign key once. Planned while the tables were all but empty, it
looks for a visit by its clinic alone and reads every visit of the clinic for each new irrigation:
a first file of n visits takes n squared. Only an owner may ANALYZE, hence a function.
"""

from django.db import migrations

REFRESH = """
CREATE FUNCTION registry_refresh_young_statistics() RETURNS void
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $body$
BEGIN
    -- Once a table is known to be large, autovacuum keeps it so; the lock is held to the end of
    -- the transaction, so whoever comes second goes on without.
    IF (SELECT reltuples FROM pg_class WHERE oid = 'registry_visit'::regclass) < 10000 THEN
        ANALYZE (SKIP_LOCKED) registry_subject, registry_visit, registry_irrigation;
    END IF;
END
$body$;
"""


class Migration(migrations.Migration):
    dependencies = [("registry", "0002_keys_scope_history")]

    operations = [
        migrations.RunSQL(REFRESH, "DROP FUNCTION registry_refresh_young_statistics()"),
    ]
