from django.apps import AppConfig


class HouseholdConfig(AppConfig):
    name = "library.household"
    label = "household"

    def ready(self) -> None:
        from library.household import following, panels

        panels.register()
        following.register()
