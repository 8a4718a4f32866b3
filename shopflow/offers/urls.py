from __future__ import annotations

from django.urls import URLPattern, path

from .views import (
    changes,
    drafts,
    handovers,
    left,
    links,
    offers,
    papers,
    scope,
    yours,
    yours_changes,
    yours_handovers,
    yours_offers,
    yours_photos,
)

app_name = "offers"

# The office: private links.
_links = [
    path("instruments/<number:number>/links/", links.page, name="links"),
    path("instruments/<number:number>/links/make/", links.make, name="link-make"),
    path("instruments/<number:number>/links/<int:pk>/revoke/", links.revoke, name="link-revoke"),
]

# The office: offers.
_offers = [
    path("offers/", offers.waiting, name="waiting"),
    path("instruments/<number:number>/offers/", offers.offers, name="offers"),
    path("instruments/<number:number>/offers/new/", offers.new, name="offer-new"),
    path("instruments/<number:number>/offers/<int:version>/", drafts.offer, name="offer"),
    path("instruments/<number:number>/offers/<int:version>/add/", drafts.add_option, name="option-add"),
    path(
        "instruments/<number:number>/offers/<int:version>/options/<int:pk>/take-out/",
        drafts.take_out,
        name="option-take-out",
    ),
    path(
        "instruments/<number:number>/offers/<int:version>/options/<int:pk>/stays-so/",
        drafts.answer_objection,
        name="objection",
    ),
    path("instruments/<number:number>/offers/<int:version>/look/", drafts.preview, name="offer-preview"),
    path("instruments/<number:number>/offers/<int:version>/send/", drafts.send, name="offer-send"),
    path("instruments/<number:number>/offers/<int:version>/copy/", offers.copy, name="offer-copy"),
    path("instruments/<number:number>/offers/<int:version>/deposit/", offers.deposit, name="offer-deposit"),
    path("instruments/<number:number>/offers/<int:version>/yes/", offers.paper_yes, name="offer-yes"),
    path("instruments/<number:number>/offers/<int:version>/paper.pdf", offers.paper, name="offer-paper"),
    path("instruments/<number:number>/offers/<int:version>/<slug:button>/", offers.end, name="offer-end"),
]

# The office: what to do for this money.
_scope = [
    path("instruments/<number:number>/scope/", scope.scope, name="scope"),
    path("instruments/<number:number>/scope/keep/", scope.keep, name="scope-keep"),
]

# The office: what came to light after teardown.
_changes = [
    path("instruments/<number:number>/changes/", changes.changes, name="changes"),
    path("instruments/<number:number>/changes/begin/", changes.begin, name="change-begin"),
    path("instruments/<number:number>/changes/new/", changes.begin_with_new, name="change-new"),
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

# The office: what was left as found, and the report with which an instrument goes home.
_going_home = [
    path("instruments/<number:number>/left-as-found/", left.left, name="left"),
    path("instruments/<number:number>/left-as-found/notice/", left.left_notice, name="left-notice"),
    path("instruments/<number:number>/left-as-found/<int:finding_pk>/leave/", left.leave, name="leave"),
    path("instruments/<number:number>/left-as-found/<int:left_pk>/end/", left.end, name="left-end"),
    path(
        "instruments/<number:number>/left-as-found/<int:finding_pk>/unsafe/",
        left.answer_unsafe,
        name="left-unsafe",
    ),
    path("instruments/<number:number>/handover/", handovers.handover, name="handover"),
    path("instruments/<number:number>/handover/begin/", handovers.begin, name="handover-begin"),
    path("instruments/<number:number>/handover/checks/", handovers.checks, name="handover-checks"),
    path("instruments/<number:number>/handover/preview/", handovers.preview, name="handover-preview"),
    path("instruments/<number:number>/handover/notice/", handovers.handover_notice, name="handover-notice"),
    path(
        "instruments/<number:number>/handover/<int:report_number>/", handovers.report, name="handover-report"
    ),
    path(
        "instruments/<number:number>/handover/<int:report_number>/report.pdf",
        papers.handover,
        name="handover-paper",
    ),
]

# The customer. The door stands last: whatever else is written after /yours/ is taken for a link.
_yours = [
    path("yours/", yours.yours, name="yours"),
    path("yours/offers/<int:version>/", yours_offers.offer, name="yours-offer"),
    path("yours/offers/<int:version>/paper.pdf", yours_offers.paper, name="yours-offer-paper"),
    path("yours/changes/<int:change_number>/", yours_changes.change, name="yours-change"),
    path("yours/changes/<int:change_number>/paper.pdf", papers.yours_change, name="yours-change-paper"),
    path("yours/handovers/<int:report_number>/", yours_handovers.handover, name="yours-handover"),
    path(
        "yours/handovers/<int:report_number>/report.pdf", papers.yours_handover, name="yours-handover-paper"
    ),
    path("yours/photos/<uuid:key>/<int:side>/", yours_photos.photo, name="yours-photo"),
    path("yours/<path:token>", yours.door, name="door"),
]

urlpatterns: list[URLPattern] = [*_links, *_scope, *_offers, *_changes, *_going_home, *_yours]
