from __future__ import annotations

from django.urls import URLPattern, path

from . import views

app_name = "photos"

urlpatterns: list[URLPattern] = [
    path("findings/<int:pk>/photos/", views.of_finding, name="of-finding"),
    path("photos/<uuid:key>/", views.photo, name="photo"),
    path("photos/<uuid:key>/for-customer/", views.for_customer, name="for-customer"),
    path("photos/<uuid:key>/<int:side>.jpg", views.copy, name="copy"),
]
