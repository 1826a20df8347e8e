"""Properties are judged by what they find, not by how long a busy machine takes over them."""

from hypothesis import settings

settings.register_profile("measures", deadline=None)
settings.load_profile("measures")
