from django.apps import AppConfig


class RemindersConfig(AppConfig):
    name = "library.reminders"
    label = "reminders"

    def ready(self) -> None:
        from library import hooks
        from library.hooks import Panel, register_panel
        from library.outbox import sources
        from library.reminders import panels
        from library.reminders.services import letter_of

        sources.register("reminder", letter_of)
        sources.register("digest", letter_of)
        register_panel("home", Panel("reminders/panels/due.html", panels.due_panel, order=10))
        refused = Panel("reminders/panels/refused_home.html", panels.refused_at_home, order=15)
        register_panel("home", refused)
        register_panel("account", Panel("reminders/panels/wishes.html", panels.wishes_panel))
        register_panel("member", Panel("reminders/panels/refused.html", panels.refused_panel))
        hooks.register_known("reminders", panels.known_of)
        hooks.follow("member_leaves", panels.forget)
