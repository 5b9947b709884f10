from django.apps import AppConfig


class PhotosConfig(AppConfig):
    name = "library.photos"
    label = "photos"
