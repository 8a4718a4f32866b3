from __future__ import annotations

from django.urls import URLPattern, path

from .views import links, yours

app_name = "offers"

# The office: private links.
_links = [
    path("instruments/<number:number>/links/", links.page, name="links"),
    path("instruments/<number:number>/links/make/", links.make, name="link-make"),
    path("instruments/<number:number>/links/<int:pk>/revoke/", links.revoke, name="link-revoke"),
]

# The customer. The door stands last: whatever else is written after /yours/ is taken for a link.
_yours = [
    path("yours/", yours.yours, name="yours"),
    path("yours/<path:token>", yours.door, name="door"),
]

urlpatterns: list[URLPattern] = [*_links, *_yours]
