from __future__ import annotations

from django.urls import URLPattern, path

from shopflow.instruments import addresses  # noqa: F401  (<number:…>)

from .views import aside, findings, marks, parts, photos

app_name = "photos"

urlpatterns: list[URLPattern] = [
    path("findings/<int:pk>/photos/", findings.of_finding, name="of-finding"),
    path("photos/<uuid:key>/", photos.photo, name="photo"),
    path("photos/<uuid:key>/for-customer/", photos.for_customer, name="for-customer"),
    path("photos/<uuid:key>/<int:side>.jpg", photos.copy, name="copy"),
    path("photos/<uuid:key>/aside/", aside.put_aside, name="put-aside"),
    path("photos/<uuid:key>/bring-back/", aside.bring_back, name="bring-back"),
    path("photos/<uuid:key>/marks/", marks.marks, name="marks"),
    path("photos/<uuid:key>/marks/<int:pk>/", marks.mark, name="mark"),
    path("photos/<uuid:key>/marks/<int:pk>/strike/", marks.strike, name="mark-strike"),
    path("instruments/<number:number>/photos/sheet/", aside.contact_sheet, name="contact-sheet"),
    path("instruments/<number:number>/parts/", parts.parts_of, name="parts"),
    path("instruments/<number:number>/parts/out/", parts.parts_out, name="parts-out"),
    path("instruments/<number:number>/parts/in/", parts.parts_in, name="parts-in"),
]
