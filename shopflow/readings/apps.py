from django.apps import AppConfig


class ReadingsConfig(AppConfig):
    name = "shopflow.readings"

    def ready(self) -> None:
        from .telling import tell

        tell()
