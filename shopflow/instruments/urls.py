from __future__ import annotations

from django.urls import URLPattern, path

from . import addresses  # noqa: F401  (<number:…>)
from .views import crates, findings, survey, survey_group, tags

app_name = "instruments"

SURVEY = "instruments/<number:number>/survey/"

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
    # Surveys
    path(SURVEY, survey.survey, name="survey"),
    path(f"{SURVEY}begin/", survey.begin, name="survey-begin"),
    path(f"{SURVEY}known/", survey.known, name="survey-known"),
    path(f"{SURVEY}finish/", survey.finish, name="survey-finish"),
    path(f"{SURVEY}report/", survey.report, name="survey-report"),
    path(f"{SURVEY}draft/", survey_group.draft, name="survey-draft"),
    path(f"{SURVEY}part/<slug:group>/", survey_group.group, name="survey-group"),
    path(f"{SURVEY}part/<slug:group>/look/", survey_group.look, name="survey-look"),
    path(f"{SURVEY}part/<slug:group>/reading/", survey_group.reading, name="survey-reading"),
    path(f"{SURVEY}part/<slug:group>/found/<slug:kind>/", findings.new_finding, name="survey-new-finding"),
    path(
        f"{SURVEY}readings/<int:pk>/take-back/",
        survey_group.take_back_reading,
        name="survey-take-back-reading",
    ),
    path(f"{SURVEY}findings/<int:which>/", findings.finding, name="survey-finding"),
    path(f"{SURVEY}findings/<int:which>/verdict/", findings.verdict, name="survey-verdict"),
    path(
        f"{SURVEY}findings/<int:which>/<slug:button>/", findings.finding_button, name="survey-finding-button"
    ),
]
