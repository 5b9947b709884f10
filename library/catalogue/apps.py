from django.apps import AppConfig


class CatalogueConfig(AppConfig):
    name = "library.catalogue"
    label = "catalogue"
