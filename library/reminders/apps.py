from django.apps import AppConfig


class RemindersConfig(AppConfig):
    name = "library.reminders"
    label = "reminders"
