"""Where the keys and the belly of an instrument are read."""

from __future__ import annotations

from django.urls import URLPattern, path

from .views import bearing, regulating, touch

_HOME = "instruments/<number:number>/"

urlpatterns: list[URLPattern] = [
    path(f"{_HOME}touch/", touch.touch, name="touch"),
    path(f"{_HOME}touch/regulating/", regulating.regulating, name="regulating"),
    path(f"{_HOME}touch/regulating/<slug:code>/", regulating.value, name="regulating-value"),
    path(f"{_HOME}touch/regulating/<slug:code>/sample/", regulating.sample, name="regulating-sample"),
    path(f"{_HOME}touch/<slug:phase>/<int:note>/", touch.key, name="touch-key"),
    path(f"{_HOME}touch/<slug:phase>/<int:note>/strike/", touch.strike, name="touch-strike"),
    path(f"{_HOME}bearing/", bearing.bearing, name="bearing"),
]
