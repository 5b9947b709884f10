"""The picture of a chain: lots on a time axis, links as wide as their shares."""

from library.provenance.picture.reading import Picture, picture_of

__all__ = ["Picture", "picture_of"]
