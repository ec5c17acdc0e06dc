from django.apps import AppConfig


class ReadinessConfig(AppConfig):
    name = "readiness"

    def ready(self) -> None:
        from fleet.views.vehicles import standing_of
        from readiness import receivers  # noqa: F401
        from readiness.queries.standings import standings

        standing_of.append(standings)
