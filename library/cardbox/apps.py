from django.apps import AppConfig


class CardboxConfig(AppConfig):
    name = "library.cardbox"
    label = "cardbox"

    def ready(self) -> None:
        from library.cardbox import panels

        panels.register()
