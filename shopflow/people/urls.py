from __future__ import annotations

from django.urls import URLPattern, path

from .views import sign_in

app_name = "people"

urlpatterns: list[URLPattern] = [
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-in/pin/<int:pk>/", sign_in.pin, name="pin"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
    path("switch/", sign_in.switch, name="switch"),
]
