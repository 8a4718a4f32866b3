"""Where the scales of an instrument live."""

from __future__ import annotations

from django.urls import URLPattern, path

from .views import scale, scale_file, scale_note, scale_order, scale_propose, scale_table

_SCALES = "instruments/<number:number>/scale/"
_SCALE = f"{_SCALES}<int:pk>/"

urlpatterns: list[URLPattern] = [
    path(_SCALES, scale.scales, name="scales"),
    path(_SCALE, scale.scale, name="scale"),
    path(f"{_SCALE}facts/", scale.facts, name="scale-facts"),
    path(f"{_SCALE}drop/", scale.drop, name="scale-drop"),
    path(f"{_SCALE}note/<int:note>/", scale_note.note, name="scale-note"),
    path(f"{_SCALE}note/<int:note>/off/", scale_note.off, name="scale-note-off"),
    path(f"{_SCALE}table/", scale_table.table, name="scale-table"),
    path(f"{_SCALE}csv/", scale_file.out, name="scale-csv"),
    path(f"{_SCALE}bring/", scale_file.bring, name="scale-bring"),
    path(f"{_SCALE}bring/<str:key>/", scale_file.look, name="scale-look"),
    path(f"{_SCALE}propose/", scale_propose.propose, name="scale-propose"),
    path(f"{_SCALE}beside/<int:other>/", scale_propose.beside, name="scale-beside"),
    path(f"{_SCALE}order/", scale_order.order, name="scale-order"),
    path(f"{_SCALE}order.pdf", scale_order.order_pdf, name="scale-order-pdf"),
]
