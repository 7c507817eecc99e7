from django.apps import AppConfig


class RegistryConfig(AppConfig):
    name = "registry"
    verbose_name = "Caloric registry"

    def ready(self) -> None:
        # Imported here, not in the package: the pure rooms must not load Celery.
        from registry import celery
        from registry.access import database, failures
        from registry.intake import context

        celery.app.set_default()
        database.connect_signals()
        failures.connect_signals()
        context.connect_signals()
