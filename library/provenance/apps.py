from django.apps import AppConfig


class ProvenanceConfig(AppConfig):
    name = "library.provenance"
    label = "provenance"

    def ready(self) -> None:
        from library.provenance import panels
        from library.provenance.guards import GUARDS
        from library.stock import guards

        guards.register(GUARDS)
        panels.register()
