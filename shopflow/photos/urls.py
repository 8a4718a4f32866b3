from __future__ import annotations

from django.urls import URLPattern, path

from . import views

app_name = "photos"

urlpatterns: list[URLPattern] = [
    path("photos/<uuid:key>/", views.photo, name="photo"),
    path("photos/<uuid:key>/<int:side>.jpg", views.copy, name="copy"),
]
