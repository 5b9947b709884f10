from django.apps import AppConfig


class DemoConfig(AppConfig):
    name = "library.demo"
    label = "demo"
