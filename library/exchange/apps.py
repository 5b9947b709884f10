from django.apps import AppConfig


class ExchangeConfig(AppConfig):
    name = "library.exchange"
    label = "exchange"
