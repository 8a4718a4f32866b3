from django.apps import AppConfig


class OffersConfig(AppConfig):
    name = "shopflow.offers"

    def ready(self) -> None:
        from shopflow.instruments.selectors.safety import ask_what_is_mended

        from .selectors.fates import put_right

        ask_what_is_mended(put_right)
