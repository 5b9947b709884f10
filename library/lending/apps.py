from django.apps import AppConfig


class LendingConfig(AppConfig):
    name = "library.lending"
    label = "lending"
