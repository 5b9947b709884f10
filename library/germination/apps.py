from django.apps import AppConfig


class GerminationConfig(AppConfig):
    name = "library.germination"
    label = "germination"
