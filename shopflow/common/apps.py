from django.apps import AppConfig


class CommonConfig(AppConfig):
    name = "shopflow.common"

    def ready(self) -> None:
        from . import checks  # noqa: F401  registers itself
