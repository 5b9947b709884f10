from django.apps import AppConfig


class StockConfig(AppConfig):
    name = "library.stock"
    label = "stock"

    def ready(self) -> None:
        from library.hooks import Panel, register_panel
        from library.stock.panels import lots_of_variety

        register_panel("variety", Panel("stock/variety_panel.html", lots_of_variety, order=10))
