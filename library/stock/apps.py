from django.apps import AppConfig


class StockConfig(AppConfig):
    name = "library.stock"
    label = "stock"
