"""The database itself refuses to change or rub out a line of the act book.

SQLite rebuilds a table when a column changes, and a rebuilt table loses its triggers: a later migration that
touches fleet_act must call `guard` again. fleet/checks.py tells when the guard is missing.
"""

from django.db import migrations

MESSAGE = "The act book is only added to."
SQLITE = [
    f"CREATE TRIGGER IF NOT EXISTS fleet_act_no_update BEFORE UPDATE ON fleet_act "
    f"BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END",
    f"CREATE TRIGGER IF NOT EXISTS fleet_act_no_delete BEFORE DELETE ON fleet_act "
    f"BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END",
]
SQLITE_OFF = ["DROP TRIGGER IF EXISTS fleet_act_no_update", "DROP TRIGGER IF EXISTS fleet_act_no_delete"]
POSTGRESQL = [
    f"CREATE OR REPLACE FUNCTION fleet_act_only_added() RETURNS trigger LANGUAGE plpgsql AS "
    f"$$ BEGIN RAISE EXCEPTION '{MESSAGE}' USING ERRCODE = 'check_violation'; END $$",
    "CREATE TRIGGER fleet_act_no_change BEFORE UPDATE OR DELETE ON fleet_act "
    "FOR EACH ROW EXECUTE FUNCTION fleet_act_only_added()",
]
POSTGRESQL_OFF = [
    "DROP TRIGGER IF EXISTS fleet_act_no_change ON fleet_act",
    "DROP FUNCTION IF EXISTS fleet_act_only_added()",
]


def run(schema_editor, sqlite, postgresql):
    vendor = schema_editor.connection.vendor
    for statement in {"sqlite": sqlite, "postgresql": postgresql}.get(vendor, []):
        schema_editor.execute(statement)


def guard(apps, schema_editor):
    run(schema_editor, SQLITE, POSTGRESQL)


def unguard(apps, schema_editor):
    run(schema_editor, SQLITE_OFF, POSTGRESQL_OFF)


class Migration(migrations.Migration):
    dependencies = [("fleet", "0002_one_time_code")]
    operations = [migrations.RunPython(guard, unguard)]
