from __future__ import annotations

from django.urls import URLPattern, path, register_converter

from .converters import WeekConverter
from .views import exports, records, weeks, year

app_name = "reports"
register_converter(WeekConverter, "isoweek")

urlpatterns: list[URLPattern] = [
    path("year/", year.year, name="year"),
    path("year/<int:number>/", year.year, name="year-of"),
    path("reports/", weeks.shelf, name="reports"),
    path("reports/<isoweek:week>/", weeks.week, name="week"),
    path("reports/<isoweek:week>/make/", weeks.make, name="make"),
    path("reports/<isoweek:week>/making/", weeks.making, name="making"),
    path("reports/<isoweek:week>.pdf", weeks.pdf, name="pdf"),
    path("records/", records.records, name="records"),
    path("exports/", exports.exports, name="exports"),
    path("exports/<slug:what>/", exports.take_out, name="take-out"),
]
