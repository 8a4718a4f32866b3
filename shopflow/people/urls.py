from __future__ import annotations

from django.urls import URLPattern, path

from .views import enrol, held, own, sign_in, staff, tablets

app_name = "people"

urlpatterns: list[URLPattern] = [
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-in/pin/<int:pk>/", sign_in.pin, name="pin"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
    path("switch/", sign_in.switch, name="switch"),
    path("not-sent-yet/", held.not_sent_yet, name="not-sent-yet"),
    path("not-sent-yet/throw-away/", held.throw_away, name="throw-away"),
    path("tablet/", enrol.tablet, name="tablet-here"),
    path("me/", own.me, name="me"),
    path("me/password/", own.password, name="me-password"),
    path("me/pin/", own.pin, name="me-pin"),
    path("set-up/people/", staff.people, name="people"),
    path("set-up/people/add/", staff.add, name="person-add"),
    path("set-up/people/<int:pk>/", staff.person, name="person"),
    path("set-up/people/<int:pk>/pin/", staff.pin, name="person-pin"),
    path("set-up/people/<int:pk>/password/", staff.password, name="person-password"),
    path("set-up/people/<int:pk>/stop/", staff.stop, name="person-stop"),
    path("set-up/people/<int:pk>/back/", staff.back, name="person-back"),
    path("set-up/people/<int:pk>/release/", staff.release, name="person-release"),
    path("set-up/tablets/", tablets.tablets, name="tablets"),
    path("set-up/tablets/<int:pk>/", tablets.tablet, name="tablet"),
    path("set-up/tablets/<int:pk>/code/", tablets.code, name="tablet-code"),
    path("set-up/tablets/<int:pk>/revoke/", tablets.revoke, name="tablet-revoke"),
]
