"""What uvicorn serves: pages, and the long-lived streams that tell tablets of a change."""

import os

from django.core.asgi import get_asgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopflow.settings")

application = get_asgi_application()
