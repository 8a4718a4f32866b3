from __future__ import annotations

from django.urls import URLPattern, path

from .views import live

app_name = "workshop"

urlpatterns: list[URLPattern] = [
    path("live/", live.live, name="live"),
    path("live/number/", live.number, name="live-number"),
]
