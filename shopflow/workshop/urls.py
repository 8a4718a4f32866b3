from __future__ import annotations

from django.urls import URLPattern, path

from .views import bench, live, taps

app_name = "workshop"

urlpatterns: list[URLPattern] = [
    path("bench/", bench.benches, name="benches"),
    path("bench/<slug:code>/", bench.bench, name="bench"),
    path("tasks/<int:pk>/", bench.task, name="task"),
    path("tasks/<int:pk>/move/", taps.move, name="move"),
    path("tasks/<int:pk>/undo/", taps.undo, name="undo"),
    path("tasks/<int:pk>/snag/", taps.snag, name="snag"),
    path("tasks/<int:pk>/snag/<int:snag_pk>/clear/", taps.clear_snag, name="clear-snag"),
    path("tasks/<int:pk>/snag/<int:snag_pk>/ask-again/", taps.ask_again, name="ask-again"),
    path("tasks/<int:pk>/hours/", taps.hours, name="hours"),
    path("tasks/<int:pk>/hours/take-back/", taps.take_back_hours, name="take-back-hours"),
    path("live/", live.live, name="live"),
    path("live/number/", live.number, name="live-number"),
]
