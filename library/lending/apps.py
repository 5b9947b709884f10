from django.apps import AppConfig


class LendingConfig(AppConfig):
    name = "library.lending"
    label = "lending"

    def ready(self) -> None:
        from library.lending import panels

        panels.register()
