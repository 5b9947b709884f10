from django.apps import AppConfig


class CalendarsConfig(AppConfig):
    name = "library.calendars"
    label = "calendars"

    def ready(self) -> None:
        from library import hooks
        from library.calendars import panels, services

        hooks.register_panel(
            "account", hooks.Panel("calendars/panel.html", panels.calendar_panel, order=20)
        )
        hooks.register_known("calendar", panels.known_of)
        hooks.follow("member_leaves", services.forget_calendar_of)
