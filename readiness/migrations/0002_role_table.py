"""The role table that a museum starts with; it edits its own rows from then on."""

from django.db import migrations

from readiness.engine.roles import default_table


def fill(apps, schema_editor):
    RoleRule = apps.get_model("readiness", "RoleRule")
    RoleRule.objects.bulk_create(
        RoleRule(role=role, subject=subject, code=code, demand=demand, count=count)
        for (role, subject, code), (demand, count) in sorted(default_table().items())
    )


class Migration(migrations.Migration):
    dependencies = [("readiness", "0001_initial")]
    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
