from django.apps import AppConfig


class RemindersConfig(AppConfig):
    name = "library.reminders"
    label = "reminders"

    def ready(self) -> None:
        from library.hooks import Panel, register_panel
        from library.outbox import sources
        from library.reminders.panels import due_panel
        from library.reminders.services import address_for

        sources.register("reminder", address_for)
        register_panel("home", Panel("reminders/panels/due.html", due_panel, order=10))
