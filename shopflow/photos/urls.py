from __future__ import annotations

from django.urls import URLPattern, path

from shopflow.instruments import addresses  # noqa: F401  (<number:…>)

from . import mark_views, views

app_name = "photos"

urlpatterns: list[URLPattern] = [
    path("findings/<int:pk>/photos/", views.of_finding, name="of-finding"),
    path("photos/<uuid:key>/", views.photo, name="photo"),
    path("photos/<uuid:key>/for-customer/", views.for_customer, name="for-customer"),
    path("photos/<uuid:key>/<int:side>.jpg", views.copy, name="copy"),
    path("photos/<uuid:key>/aside/", mark_views.put_aside, name="put-aside"),
    path("photos/<uuid:key>/bring-back/", mark_views.bring_back, name="bring-back"),
    path("photos/<uuid:key>/marks/", mark_views.marks, name="marks"),
    path("photos/<uuid:key>/marks/<int:pk>/", mark_views.mark, name="mark"),
    path("photos/<uuid:key>/marks/<int:pk>/strike/", mark_views.strike, name="mark-strike"),
    path("instruments/<number:number>/photos/sheet/", mark_views.contact_sheet, name="contact-sheet"),
    path("instruments/<number:number>/parts/", mark_views.parts_of, name="parts"),
    path("instruments/<number:number>/parts/out/", mark_views.parts_out, name="parts-out"),
    path("instruments/<number:number>/parts/in/", mark_views.parts_in, name="parts-in"),
]
