from __future__ import annotations

from django.urls import URLPattern, URLResolver, include, path

from shopflow.common.sampler import sampler

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("shopflow.workshop.urls")),
    path("", include("shopflow.people.urls")),
    path("", include("shopflow.instruments.urls")),
    path("", include("shopflow.readings.urls")),
    path("", include("shopflow.offers.urls")),
    path("", include("shopflow.photos.urls")),
    path("", include("shopflow.reports.urls")),
    path("", include("shopflow.planning.urls")),
    path("sampler/", sampler, name="sampler"),
    path("set-up/", include("shopflow.catalogue.urls")),
]

handler400 = "shopflow.common.views.not_understood"
