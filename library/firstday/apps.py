from django.apps import AppConfig


class FirstDayConfig(AppConfig):
    name = "library.firstday"
    label = "firstday"

    def ready(self) -> None:
        from library.firstday import panels

        panels.register()
