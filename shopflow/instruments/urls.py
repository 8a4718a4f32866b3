from __future__ import annotations

from django.urls import URLPattern, path

from . import addresses  # noqa: F401  (<number:…>)
from .views import crates, tags

app_name = "instruments"
urlpatterns: list[URLPattern] = [
    # Crates and tags
    path("instruments/<number:number>/crates/", crates.of_instrument, name="crates"),
    path("instruments/<number:number>/tags/", tags.tags, name="tags"),
    path("crates/", crates.find, name="find-crate"),
    path("crates/<int:crate>/", crates.show, name="crate"),
    path("crates/<int:crate>/pack/", crates.pack, name="crate-pack"),
    path("crates/<int:crate>/move/", crates.move, name="crate-move"),
    path("crates/<int:crate>/open/", crates.opened, name="crate-open"),
    path("crates/<int:crate>/empty/", crates.emptied, name="crate-empty"),
    path("crates/<int:crate>/out/", crates.out, name="crate-out"),
    path("crates/<int:crate>/in/", crates.back, name="crate-in"),
    path("crates/<int:crate>/count/", crates.over, name="crate-count"),
    path("crates/<int:crate>/right/<int:pk>/", crates.right, name="crate-right"),
]
