from django.apps import AppConfig


class FleetConfig(AppConfig):
    name = "fleet"

    def ready(self) -> None:
        from fleet import checks  # noqa: F401
