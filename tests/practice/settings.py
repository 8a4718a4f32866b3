"""For worker processes that a test starts: the test's own database, and work to practise on."""

import os

from shopflow.settings import *  # noqa: F403
from shopflow.settings import CELERY_BEAT_SCHEDULE, DATABASES, INSTALLED_APPS

DATABASES = {"default": DATABASES["default"] | {"NAME": os.environ.get("PRACTICE_DATABASE")}}
INSTALLED_APPS = [*INSTALLED_APPS, "tests.practice"]
CELERY_BEAT_SCHEDULE = {
    "sweep": CELERY_BEAT_SCHEDULE["sweep"] | {"schedule": 1.0, "options": {"expires": 2}},
}
