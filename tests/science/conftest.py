"""Property tests are judged by what they find, not by how fast the machine is."""

from hypothesis import settings

settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
