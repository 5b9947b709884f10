from django.apps import AppConfig


class AccountsConfig(AppConfig):
    name = "accounts"
    label = "accounts"

    def ready(self) -> None:
        from allauth.account.signals import email_confirmed

        from accounts import mail, panels, schema  # noqa: F401 (registers itself)
        from accounts.confirmation import tell_coordinators
        from library.hooks import Panel, register_panel
        from library.outbox import sources

        register_panel(
            "home", Panel("accounts/panel_waiting.html", panels.waiting_for_approval, order=1)
        )
        register_panel(
            "bench", Panel("accounts/panel_to_approve.html", panels.members_to_approve)
        )
        sources.register("member", mail.reader_of)
        sources.register("application", mail.reader_of_application)
        sources.register("invitation", mail.reader_of_invitation)
        # allauth's own announcement, the one place that every way of confirming passes.
        email_confirmed.connect(tell_coordinators)
