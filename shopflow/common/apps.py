from django.apps import AppConfig


class CommonConfig(AppConfig):
    name = "shopflow.common"

    def ready(self) -> None:
        from . import checks, logs  # noqa: F401  checks register themselves

        logs.hide_secrets()
