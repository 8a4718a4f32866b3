from __future__ import annotations

from django.urls import URLPattern, path

import shopflow.instruments.addresses  # noqa: F401  (<number:…>)

from .views import bench, bring, floor, instrument, intake, layout, live, parts, photos, state, taps

app_name = "workshop"

urlpatterns: list[URLPattern] = [
    path("", floor.home, name="home"),
    path("floor/", floor.floor, name="floor"),
    path("bench/", bench.benches, name="benches"),
    path("bench/<slug:code>/", bench.bench, name="bench"),
    path("tasks/<int:pk>/", bench.task, name="task"),
    path("tasks/<int:pk>/move/", taps.move, name="move"),
    path("tasks/<int:pk>/undo/", taps.undo, name="undo"),
    path("tasks/<int:pk>/snag/", taps.snag, name="snag"),
    path("tasks/<int:pk>/snag/<int:snag_pk>/clear/", taps.clear_snag, name="clear-snag"),
    path("tasks/<int:pk>/snag/<int:snag_pk>/ask-again/", taps.ask_again, name="ask-again"),
    path("tasks/<int:pk>/photos/", photos.of_task, name="task-photos"),
    path("tasks/<int:pk>/hours/", taps.hours, name="hours"),
    path("tasks/<int:pk>/hours/take-back/", taps.take_back_hours, name="take-back-hours"),
    path("take-in/", intake.take_in, name="take-in"),
    path("instruments/<number:number>/", instrument.instrument, name="instrument"),
    path("instruments/<number:number>/facts/", intake.facts, name="facts"),
    path("instruments/<number:number>/promise/", intake.promise, name="promise"),
    path("instruments/<number:number>/leave/", intake.leave, name="leave"),
    path("instruments/<number:number>/return/", intake.come_back, name="return"),
    path("instruments/<number:number>/photos/", photos.of_instrument, name="photos"),
    path("instruments/<number:number>/parts/<int:pk>/missing/", parts.missing, name="missing-part"),
    path("instruments/<number:number>/story/", instrument.story, name="story"),
    path("instruments/<number:number>/work/", layout.work, name="work"),
    path("instruments/<number:number>/work/route/", layout.start_route, name="work-route"),
    path("instruments/<number:number>/work/add/", layout.add, name="work-add"),
    path("instruments/<number:number>/work/<int:pk>/", layout.task, name="work-task"),
    path("instruments/<number:number>/work/<int:pk>/order/", layout.order, name="work-order"),
    path("instruments/<number:number>/work/<int:pk>/assign/", layout.assign, name="work-assign"),
    path("instruments/<number:number>/work/<int:pk>/parts/", layout.parts, name="work-parts"),
    path("instruments/<number:number>/work/<int:pk>/tie/", layout.tie, name="work-tie"),
    path("instruments/<number:number>/work/<int:pk>/untie/", layout.untie, name="work-untie"),
    path("instruments/<number:number>/work/<int:pk>/drop/", layout.drop, name="work-drop"),
    path("instruments/<number:number>/state/", state.state, name="state"),
    path("instruments/<number:number>/state/add/", state.add, name="state-add"),
    path("instruments/<number:number>/state/tie/", state.tie, name="state-tie"),
    path("records/bring/", bring.bring, name="bring"),
    path("records/bring/example/", bring.example, name="bring-example"),
    path("records/bring/<str:key>/", bring.look, name="bring-look"),
    path("records/bring/<str:key>/leave/", bring.leave, name="bring-leave"),
    path("records/bring/<str:key>/brought/", bring.brought, name="brought"),
    path("live/", live.live, name="live"),
    path("live/number/", live.number, name="live-number"),
]
