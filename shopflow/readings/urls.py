from __future__ import annotations

from django.urls import URLPattern, path

from . import key_urls, scale_urls
from .views import air, of_instrument, sheet

app_name = "readings"
urlpatterns: list[URLPattern] = [
    path("tasks/<int:pk>/sheet/", sheet.sheet, name="sheet"),
    path("tasks/<int:pk>/sheet/<slug:kind>/", sheet.sheet, name="sheet-of"),
    path("tasks/<int:pk>/sheet/<slug:kind>/read/", sheet.read, name="read"),
    path("tasks/<int:pk>/sheet/<slug:kind>/sum/<slug:code>/", sheet.work_out, name="sum"),
    path("tasks/<int:pk>/sheet/<slug:kind>/strike/<slug:what>/<int:line_pk>/", sheet.strike, name="strike"),
    path("tasks/<int:pk>/sheet/<slug:kind>/seen/", sheet.seen, name="seen"),
    path("tasks/<int:pk>/sheet/<slug:kind>/cure/", sheet.cure, name="cure"),
    path("instruments/<number:number>/readings/", of_instrument.of_instrument, name="of-instrument"),
    path("air/", air.air, name="air"),
    path("air/note/", air.note, name="note-air"),
    *scale_urls.urlpatterns,
    *key_urls.urlpatterns,
]
