"""What Django cannot say: composite foreign keys and row-level security.

What hangs on a visit goes when the visit goes: an erased person leaves nothing here either.
"""

from django.db import migrations

# (name, table, columns, referenced table, gone with it)
FOREIGN_KEYS = [
    ("cell_tester_exists", "analytics_cell", "clinic_id, tester_id", "registry_tester", False),
    ("cell_irrigator_exists", "analytics_cell", "clinic_id, irrigator_id", "registry_irrigator", False),
    ("cell_recorder_exists", "analytics_cell", "clinic_id, recorder_id", "registry_recorder", False),
    ("check_cell_irrigator_exists", "analytics_checkcell", "clinic_id, irrigator_id", "registry_irrigator", False),
    ("pair_visit_exists", "analytics_retestpair", "clinic_id, visit_id", "registry_visit", True),
    ("pair_earlier_visit_exists", "analytics_retestpair", "clinic_id, earlier_visit_id", "registry_visit", True),
    ("stand_out_visit_exists", "analytics_standout", "clinic_id, visit_id", "registry_visit", True),
    ("entry_signal_exists", "analytics_signalentry", "clinic_id, signal_id", "analytics_signal", False),
    ("look_back_irrigator_exists", "analytics_lookback", "clinic_id, irrigator_id", "registry_irrigator", False),
    ("look_back_check_exists", "analytics_lookback", "clinic_id, check_id", "registry_temperaturecheck", True),
    ("look_back_visit_of", "analytics_lookbackvisit", "clinic_id, look_back_id", "analytics_lookback", True),
    ("look_back_visit_exists", "analytics_lookbackvisit", "clinic_id, visit_id", "registry_visit", True),
]
SCOPED = [
    "analytics_cell",
    "analytics_checkcell",
    "analytics_retestpair",
    "analytics_standout",
    "analytics_subjectsummary",
    "analytics_signal",
    "analytics_signalentry",
    "analytics_lookback",
    "analytics_lookbackvisit",
]
SCOPE = "nullif(current_setting('registry.clinics', true), '')::integer[]"
IN_SCOPE = f"clinic_id = ANY ({SCOPE})"
# Every clinic whose rows went into a snapshot must be in the scope of whoever reads it.
ALL_IN_SCOPE = f"clinics <@ {SCOPE}"


def foreign_keys():
    for name, table, columns, referenced, gone in FOREIGN_KEYS:
        yield migrations.RunSQL(
            f"ALTER TABLE {table} ADD CONSTRAINT {name} FOREIGN KEY ({columns})"
            f" REFERENCES {referenced} (clinic_id, id){' ON DELETE CASCADE' if gone else ''}",
            f"ALTER TABLE {table} DROP CONSTRAINT {name}",
        )


def row_security():
    for table in [*SCOPED, "analytics_snapshot"]:
        rule = ALL_IN_SCOPE if table == "analytics_snapshot" else IN_SCOPE
        yield migrations.RunSQL(
            f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY;"
            f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY;"
            f"CREATE POLICY in_scope ON {table} USING ({rule}) WITH CHECK ({rule})",
            f"DROP POLICY in_scope ON {table};"
            f"ALTER TABLE {table} NO FORCE ROW LEVEL SECURITY;"
            f"ALTER TABLE {table} DISABLE ROW LEVEL SECURITY",
        )


def indexes():
    # A tester who irrigated in another's visit is found by it; nearly all visits have none.
    yield migrations.RunSQL(
        "CREATE INDEX irrigation_by_own_tester ON registry_irrigation (clinic_id, tester_id)"
        " WHERE tester_id IS NOT NULL",
        "DROP INDEX irrigation_by_own_tester",
    )


class Migration(migrations.Migration):
    dependencies = [
        ("analytics", "0001_tables"),
        ("registry", "0002_keys_scope_history"),
    ]

    operations = [*foreign_keys(), *row_security(), *indexes()]
