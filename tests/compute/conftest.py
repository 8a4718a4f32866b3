"""Property tests judge answers, not the clock: on a busy machine a slow example is no wrong example."""

from hypothesis import settings

settings.register_profile("patient", deadline=None)
settings.load_profile("patient")
