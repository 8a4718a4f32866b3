from __future__ import annotations

from django.urls import URLPattern, path

from .views import changes, links, papers, yours, yours_changes, yours_photos

app_name = "offers"

# The office: private links.
_links = [
    path("instruments/<number:number>/links/", links.page, name="links"),
    path("instruments/<number:number>/links/make/", links.make, name="link-make"),
    path("instruments/<number:number>/links/<int:pk>/revoke/", links.revoke, name="link-revoke"),
]

# The office: what came to light after teardown.
_changes = [
    path("instruments/<number:number>/changes/", changes.changes, name="changes"),
    path("instruments/<number:number>/changes/begin/", changes.begin, name="change-begin"),
    path("instruments/<number:number>/changes/<int:change_number>/", changes.change, name="change"),
    path(
        "instruments/<number:number>/changes/<int:change_number>/settle/",
        changes.settle,
        name="change-settle",
    ),
    path(
        "instruments/<number:number>/changes/<int:change_number>/answer/",
        changes.enter_answer,
        name="change-answer",
    ),
    path(
        "instruments/<number:number>/changes/<int:change_number>/paper.pdf",
        papers.change,
        name="change-paper",
    ),
    path(
        "instruments/<number:number>/changes/<int:change_number>/<slug:button>/",
        changes.change_button,
        name="change-button",
    ),
]

# The customer. The door stands last: whatever else is written after /yours/ is taken for a link.
_yours = [
    path("yours/", yours.yours, name="yours"),
    path("yours/changes/<int:change_number>/", yours_changes.change, name="yours-change"),
    path("yours/changes/<int:change_number>/paper.pdf", papers.yours_change, name="yours-change-paper"),
    path("yours/photos/<uuid:key>/<int:side>/", yours_photos.photo, name="yours-photo"),
    path("yours/<path:token>", yours.door, name="door"),
]

urlpatterns: list[URLPattern] = [*_links, *_changes, *_yours]
