from django.apps import AppConfig


class GrowOutsConfig(AppConfig):
    name = "library.growouts"
    label = "growouts"

    def ready(self) -> None:
        from library.growouts import following, panels
        from library.growouts.commitments import mail
        from library.outbox import sources

        panels.register()
        following.register()
        sources.register(mail.SOURCE, mail.reader_of)
