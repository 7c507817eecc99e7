from django.apps import AppConfig


class AnalyticsConfig(AppConfig):
    name = "analytics"

    def ready(self) -> None:
        from analytics.tasks import register_handlers

        register_handlers()
