from django.apps import AppConfig


class GerminationConfig(AppConfig):
    name = "library.germination"
    label = "germination"

    def ready(self) -> None:
        from library.germination.following import follow_the_stock
        from library.germination.guards import GUARDS
        from library.germination.panels import living_seed_of, tests_for_desk, tests_of_lot
        from library.hooks import Panel, register_panel
        from library.stock import guards

        living = Panel("germination/pictures/living_link.html", living_seed_of, order=40)
        register_panel("browse", living)
        register_panel("crop", living)
        register_panel("lot", Panel("germination/lot_panel.html", tests_of_lot, order=40))
        register_panel("desk", Panel("germination/desk_panel.html", tests_for_desk, order=60))
        guards.register(GUARDS)
        follow_the_stock()
