from django.apps import AppConfig

from library.hooks import Panel, register_panel


class CatalogueConfig(AppConfig):
    name = "library.catalogue"
    label = "catalogue"

    def ready(self) -> None:
        from library.catalogue.panels import newest

        register_panel("home", Panel("catalogue/panels/newest.html", newest, order=60))
