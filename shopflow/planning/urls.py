from __future__ import annotations

from django.urls import URLPattern, path

from .views import balance, crew, load, plan, promises, release, scarce, waiting, year

app_name = "planning"

urlpatterns: list[URLPattern] = [
    path("load/", load.load, name="load"),
    path("load/plan/", load.plan_anew, name="plan-anew"),
    path("load/plan/progress/", load.progress, name="plan-progress"),
    path("load/plan/stop/", load.stop, name="plan-stop"),
    path("load/changes/", balance.changes, name="changes"),
    path("load/balance/", balance.balance, name="balance"),
    path("load/balance/ask/", balance.ask, name="balance-ask"),
    path("load/balance/stop/", balance.stop, name="balance-stop"),
    path("load/balance/progress/", balance.progress, name="balance-progress"),
    path("load/balance/try/", balance.try_on_paper, name="balance-try"),
    path("load/drafts/", balance.drafts_there, name="drafts"),
    path("load/drafts/<int:pk>/", balance.draft, name="draft"),
    path("load/drafts/<int:pk>/publish/", balance.publish, name="draft-publish"),
    path("load/drafts/<int:pk>/drop/", balance.drop, name="draft-drop"),
    path("load/drafts/<int:pk>/again/", balance.again, name="draft-again"),
    path("load/drafts/<int:pk>/without/<int:place>/", balance.without, name="draft-without"),
    path("load/crew/", crew.crew, name="crew"),
    path("load/crew/<slug:kind>/", crew.add, name="crew-add"),
    path("load/crew/<slug:kind>/<int:pk>/end/", crew.end, name="crew-end"),
    path("load/waiting/", waiting.waiting, name="parts"),
    path("load/waiting/part/", waiting.add_part, name="part-add"),
    path("load/waiting/part/<int:pk>/", waiting.part, name="part"),
    path("load/waiting/part/<int:pk>/<slug:button>/", waiting.part_button, name="part-button"),
    path("load/waiting/hold/", waiting.hold, name="hold"),
    path("load/waiting/hold/<int:pk>/let-go/", waiting.let_go, name="let-go"),
    path("load/<slug:code>/<slug:week>/", load.cell, name="load-cell"),
    path("plan/", plan.plan, name="plan"),
    path("plan/<slug:code>/", plan.bench, name="bench"),
    path("plan/<slug:code>/week/", plan.week, name="bench-week"),
    path("plan/<slug:code>/<slug:week>/", plan.week, name="bench-week"),
    path("promises/next/", release.release, name="release"),
    path("year/estimates/", release.estimates, name="estimates"),
    path("promises/", promises.promises, name="promises"),
    path("promises/<slug:number>/suggest/", promises.suggest, name="suggest"),
    path("set-up/scarce/", scarce.things, name="things"),
    path("set-up/scarce/usual/", scarce.usual, name="things-usual"),
    path("set-up/scarce/new/", scarce.new_thing, name="new-thing"),
    path("set-up/scarce/<slug:code>/", scarce.thing, name="thing"),
    path("set-up/scarce/<slug:code>/take-away/", scarce.take_away, name="thing-take-away"),
    path("set-up/sizes/", scarce.sizes, name="sizes"),
    path("set-up/year/", year.year, name="year"),
    path("set-up/year/<int:year>/target/", year.target, name="target"),
    path("set-up/year/<int:year>/closed/", year.close, name="close"),
    path("set-up/year/closed/<int:pk>/reopen/", year.reopen, name="reopen"),
]
