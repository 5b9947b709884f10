from django.apps import AppConfig


class AlbumConfig(AppConfig):
    name = "library.album"
    label = "album"

    def ready(self) -> None:
        from library import hooks
        from library.album import panels, services

        panels.register()
        hooks.follow("goes_with_season_note", services.goes_with_note)
        hooks.follow("season_note_goes", services.note_goes)
