from django.apps import AppConfig


class ExchangeConfig(AppConfig):
    name = "library.exchange"
    label = "exchange"

    def ready(self) -> None:
        from library.exchange import panels

        panels.register()
