"""The Celery application: workers and the weekly clock start from here."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopflow.settings")

app = Celery("shopflow")
app.config_from_object("django.conf:settings", namespace="CELERY")
# Background work stands in each app's `background.py`; `common` keeps its own under the same name.
app.autodiscover_tasks(related_name="background")
