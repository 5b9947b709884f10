from django.apps import AppConfig


class StockConfig(AppConfig):
    name = "library.stock"
    label = "stock"

    def ready(self) -> None:
        from library.hooks import Panel, register_panel
        from library.stock.panels import lots_of_variety, stock_at_the_desk

        register_panel("variety", Panel("stock/variety_panel.html", lots_of_variety, order=10))
        register_panel("desk", Panel("stock/desk_panel.html", stock_at_the_desk, order=90))
