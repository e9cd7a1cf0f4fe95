"""For all tests: hypothesis measures no time, since the first example loads a model."""

from hypothesis import settings

settings.register_profile("fieldvoice", deadline=None)
settings.load_profile("fieldvoice")
