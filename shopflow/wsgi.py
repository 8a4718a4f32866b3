"""The same pages for a WSGI server, where a house already runs one."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopflow.settings")

application = get_wsgi_application()
