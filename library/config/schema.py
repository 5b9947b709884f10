from drf_spectacular.openapi import AutoSchema


class LibrarySchema(AutoSchema):
    pass
