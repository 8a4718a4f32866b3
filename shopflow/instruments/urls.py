from __future__ import annotations

from django.urls import URLPattern

from . import addresses  # noqa: F401  (<number:…>)

app_name = "instruments"
urlpatterns: list[URLPattern] = []
