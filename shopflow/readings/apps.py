from django.apps import AppConfig


class ReadingsConfig(AppConfig):
    name = "shopflow.readings"

    def ready(self) -> None:
        from shopflow.workshop.services.final_check import demand

        from .selectors.demands import readings_after
        from .telling import tell

        tell()
        demand(readings_after)
