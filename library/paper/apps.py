from django.apps import AppConfig


class PaperConfig(AppConfig):
    name = "library.paper"
    label = "paper"

    def ready(self) -> None:
        from library.paper import panels

        panels.register()
