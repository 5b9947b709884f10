from django.apps import AppConfig


class OutboxConfig(AppConfig):
    name = "library.outbox"
    label = "outbox"
