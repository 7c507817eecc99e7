"""What Django cannot say: composite foreign keys, row-level security, history and audit triggers.

Foreign keys are immediate: a deferred one would fail at commit, far from its row.
"""

from django.db import migrations

# (name, table, columns, referenced table)
FOREIGN_KEYS = [
    ("membership_tester_exists", "registry_membership", "clinic_id, tester_id", "registry_tester"),
    ("upload_problem_upload_exists", "registry_uploadproblem", "clinic_id, upload_id", "registry_upload"),
    ("visit_subject_exists", "registry_visit", "clinic_id, subject_id", "registry_subject"),
    ("visit_tester_exists", "registry_visit", "clinic_id, tester_id", "registry_tester"),
    ("visit_irrigator_exists", "registry_visit", "clinic_id, irrigator_id", "registry_irrigator"),
    ("visit_recorder_exists", "registry_visit", "clinic_id, recorder_id", "registry_recorder"),
    ("visit_upload_exists", "registry_visit", "clinic_id, upload_id", "registry_upload"),
    ("irrigation_visit_exists", "registry_irrigation", "clinic_id, visit_id", "registry_visit"),
    ("irrigation_tester_exists", "registry_irrigation", "clinic_id, tester_id", "registry_tester"),
    ("irrigation_irrigator_exists", "registry_irrigation", "clinic_id, irrigator_id", "registry_irrigator"),
    ("irrigation_peak_set_by_exists", "registry_irrigation", "clinic_id, peak_set_by_id", "registry_tester"),
    ("beats_irrigation_exists", "registry_responsebeats", "clinic_id, visit_id, ear, stimulus, attempt", "registry_irrigation"),
    ("result_visit_exists", "registry_visitresult", "clinic_id, visit_id", "registry_visit"),
    ("check_irrigator_exists", "registry_temperaturecheck", "clinic_id, irrigator_id", "registry_irrigator"),
    ("check_thermometer_exists", "registry_temperaturecheck", "clinic_id, thermometer_id", "registry_thermometer"),
    ("event_irrigator_exists", "registry_equipmentevent", "clinic_id, irrigator_id", "registry_irrigator"),
    ("event_recorder_exists", "registry_equipmentevent", "clinic_id, recorder_id", "registry_recorder"),
]

SCOPED = [
    "registry_tester",
    "registry_irrigator",
    "registry_recorder",
    "registry_thermometer",
    "registry_subject",
    "registry_visit",
    "registry_irrigation",
    "registry_responsebeats",
    "registry_visitresult",
    "registry_temperaturecheck",
    "registry_equipmentevent",
    "registry_upload",
    "registry_uploadproblem",
    "registry_rowversion",
    "registry_tombstone",
    "registry_changedkey",
]
IN_SCOPE = (
    "clinic_id = ANY (nullif(current_setting('registry.clinics', true), '')::integer[])"
)

# Table and the JSON keys that hold its visit and subject, for erasing their history.
KEPT = {
    "registry_tester": ("-", "-"),
    "registry_irrigator": ("-", "-"),
    "registry_recorder": ("-", "-"),
    "registry_thermometer": ("-", "-"),
    "registry_temperaturecheck": ("-", "-"),
    "registry_equipmentevent": ("-", "-"),
    "registry_subject": ("-", "id"),
    "registry_visit": ("id", "subject_id"),
    "registry_irrigation": ("visit_id", "-"),
    "registry_responsebeats": ("visit_id", "-"),
    "registry_visitresult": ("visit_id", "-"),
}
APPEND_ONLY = ["registry_auditevent", "registry_criteriaset"]

FUNCTIONS = """
CREATE SEQUENCE registry_rowversion_id_seq OWNED BY registry_rowversion.id;
ALTER TABLE registry_rowversion ALTER COLUMN id SET DEFAULT nextval('registry_rowversion_id_seq');

CREATE FUNCTION registry_keep_superseded() RETURNS trigger LANGUAGE plpgsql AS $body$
BEGIN
    -- TG_ARGV: the keys under which the row names its visit and its subject, '-' for none.
    INSERT INTO registry_rowversion (clinic_id, table_name, operation, visit_id, subject_id,
        superseded_at, superseded_by, request_id, content)
    SELECT (row_content ->> 'clinic_id')::integer, TG_TABLE_NAME, TG_OP,
        (row_content ->> TG_ARGV[0])::uuid, (row_content ->> TG_ARGV[1])::uuid,
        now(), coalesce(current_setting('registry.actor', true), ''),
        coalesce(current_setting('registry.request_id', true), ''), row_content
    FROM (SELECT to_jsonb(superseded) AS row_content FROM superseded) AS kept;
    RETURN NULL;
END
$body$;

CREATE FUNCTION registry_refuse_change() RETURNS trigger LANGUAGE plpgsql AS $body$
BEGIN
    RAISE EXCEPTION '% is append-only', TG_TABLE_NAME USING ERRCODE = 'insufficient_privilege';
END
$body$;
"""
DROP_FUNCTIONS = """
DROP FUNCTION registry_refuse_change();
DROP FUNCTION registry_keep_superseded();
ALTER TABLE registry_rowversion ALTER COLUMN id DROP DEFAULT;
DROP SEQUENCE registry_rowversion_id_seq;
"""


def foreign_keys():
    for name, table, columns, referenced in FOREIGN_KEYS:
        target = columns if referenced == "registry_irrigation" else "clinic_id, id"
        yield migrations.RunSQL(
            f"ALTER TABLE {table} ADD CONSTRAINT {name} FOREIGN KEY ({columns})"
            f" REFERENCES {referenced} ({target})",
            f"ALTER TABLE {table} DROP CONSTRAINT {name}",
        )


def row_security():
    for table in SCOPED:
        yield migrations.RunSQL(
            f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY;"
            f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY;"
            f"CREATE POLICY in_scope ON {table} USING ({IN_SCOPE}) WITH CHECK ({IN_SCOPE})",
            f"DROP POLICY in_scope ON {table};"
            f"ALTER TABLE {table} NO FORCE ROW LEVEL SECURITY;"
            f"ALTER TABLE {table} DISABLE ROW LEVEL SECURITY",
        )
    audit = "registry_auditevent"
    yield migrations.RunSQL(
        f"ALTER TABLE {audit} ENABLE ROW LEVEL SECURITY;"
        f"ALTER TABLE {audit} FORCE ROW LEVEL SECURITY;"
        f"CREATE POLICY read_in_scope ON {audit} FOR SELECT USING ({IN_SCOPE});"
        f"CREATE POLICY add_always ON {audit} FOR INSERT WITH CHECK (true)",
        f"DROP POLICY add_always ON {audit};"
        f"DROP POLICY read_in_scope ON {audit};"
        f"ALTER TABLE {audit} NO FORCE ROW LEVEL SECURITY;"
        f"ALTER TABLE {audit} DISABLE ROW LEVEL SECURITY",
    )


def history():
    # Statement triggers with transition tables: a row trigger costs a third of the loading speed.
    for table, (visit_key, subject_key) in KEPT.items():
        yield migrations.RunSQL(
            "".join(
                f"CREATE TRIGGER keep_{operation.lower()} AFTER {operation} ON {table}"
                f" REFERENCING OLD TABLE AS superseded FOR EACH STATEMENT"
                f" EXECUTE FUNCTION registry_keep_superseded('{visit_key}', '{subject_key}');"
                for operation in ("UPDATE", "DELETE")
            ),
            f"DROP TRIGGER keep_update ON {table}; DROP TRIGGER keep_delete ON {table}",
        )
    for table in APPEND_ONLY:
        yield migrations.RunSQL(
            f"CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON {table}"
            " FOR EACH STATEMENT EXECUTE FUNCTION registry_refuse_change()",
            f"DROP TRIGGER append_only ON {table}",
        )


class Migration(migrations.Migration):
    dependencies = [("registry", "0001_tables")]

    operations = [
        migrations.RunSQL(FUNCTIONS, DROP_FUNCTIONS),
        *foreign_keys(),
        *row_security(),
        *history(),
    ]
