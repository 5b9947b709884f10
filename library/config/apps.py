from django.apps import AppConfig


class ConfigConfig(AppConfig):
    name = "library.config"
    label = "config"
