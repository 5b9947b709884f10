from django.apps import AppConfig


class GrowOutsConfig(AppConfig):
    name = "library.growouts"
    label = "growouts"

    def ready(self) -> None:
        from library.growouts import following, panels

        panels.register()
        following.register()
