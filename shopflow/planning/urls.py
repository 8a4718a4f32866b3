from __future__ import annotations

from django.urls import URLPattern, path

from . import views

app_name = "planning"

urlpatterns: list[URLPattern] = [
    path("set-up/year/", views.year, name="year"),
    path("set-up/year/<int:year>/target/", views.target, name="target"),
    path("set-up/year/<int:year>/closed/", views.close, name="close"),
    path("set-up/year/closed/<int:pk>/reopen/", views.reopen, name="reopen"),
]
