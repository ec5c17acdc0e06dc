from django.apps import AppConfig


class ReadinessConfig(AppConfig):
    name = "readiness"

    def ready(self) -> None:
        from readiness import receivers  # noqa: F401
