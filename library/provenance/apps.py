from django.apps import AppConfig


class ProvenanceConfig(AppConfig):
    name = "library.provenance"
    label = "provenance"
