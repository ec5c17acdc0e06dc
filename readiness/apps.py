from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class ReadinessConfig(AppConfig):
    name = "readiness"

    def ready(self) -> None:
        from fleet.views.vehicles import standing_of
        from readiness import receivers  # noqa: F401
        from readiness.queries.standings import standings

        standing_of.append(standings)
        post_migrate.connect(fill_role_table, sender=self)


def fill_role_table(sender: Any, using: str, **kwargs: Any) -> None:
    """An empty role table is filled with the shipped one: a museum that has emptied its database starts like a new one."""
    from django.db import connections

    from readiness.engine.roles import default_table
    from readiness.models import RoleRule

    if RoleRule._meta.db_table not in connections[using].introspection.table_names():
        return
    if RoleRule.objects.using(using).exists():
        return
    RoleRule.objects.using(using).bulk_create(
        RoleRule(role=role, subject=subject, code=code, demand=demand, count=count)
        for (role, subject, code), (demand, count) in sorted(default_table().items())
    )
