from __future__ import annotations

from django.urls import URLPattern, path

from .views import year

app_name = "planning"

urlpatterns: list[URLPattern] = [
    path("set-up/year/", year.year, name="year"),
    path("set-up/year/<int:year>/target/", year.target, name="target"),
    path("set-up/year/<int:year>/closed/", year.close, name="close"),
    path("set-up/year/closed/<int:pk>/reopen/", year.reopen, name="reopen"),
]
