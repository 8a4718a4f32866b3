from __future__ import annotations

from django.urls import URLPattern, path

from .views import conditions, departments, lines, money, notes, operations, routes, shop, stages

app_name = "catalogue"

urlpatterns: list[URLPattern] = [
    path("", shop.set_up, name="set-up"),
    path("shop/", shop.shop, name="shop"),
    path("terms/", money.terms, name="terms"),
    path("what-counts/", money.what_counts, name="what-counts"),
    path("materials/", money.materials, name="materials"),
    path("materials/<slug:code>/", money.material, name="material"),
    path("findings/", conditions.findings, name="findings"),
    path("new-finding/", conditions.new_finding, name="new-finding"),
    path("findings/<slug:code>/", conditions.finding, name="finding"),
    path("findings/<slug:code>/new-remedy/", conditions.new_remedy, name="new-remedy"),
    path("findings/<slug:code>/<slug:button>/", conditions.finding_button, name="finding-button"),
    path("remedies/<slug:code>/", conditions.remedy, name="remedy"),
    path("remedies/<slug:code>/<slug:button>/", conditions.remedy_button, name="remedy-button"),
    path("departments/", departments.departments, name="departments"),
    path("new-department/", departments.new_department, name="new-department"),
    path("departments/<slug:code>/", departments.department, name="department"),
    path("departments/<slug:code>/new-stage/", stages.new_stage, name="new-stage"),
    path("departments/<slug:code>/new-operation/", operations.new_operation, name="new-operation"),
    path("departments/<slug:code>/<slug:button>/", departments.department_button, name="department-button"),
    path("stages/<int:pk>/", stages.stage, name="stage"),
    path("stages/<int:pk>/<slug:button>/", stages.stage_button, name="stage-button"),
    path("operations/", operations.operations, name="operations"),
    path("operations/<slug:code>/", operations.operation, name="operation"),
    path("operations/<slug:code>/state/", operations.operation_state, name="operation-state"),
    path("operations/<slug:code>/<slug:button>/", operations.operation_button, name="operation-button"),
    path("routes/", routes.routes, name="routes"),
    path("new-route/", routes.new_route, name="new-route"),
    path("routes/<slug:code>/", routes.route, name="route"),
    path("routes/<slug:code>/new-step/", routes.new_step, name="new-step"),
    path("routes/<slug:code>/<slug:button>/", routes.route_button, name="route-button"),
    path("steps/<int:pk>/<slug:button>/", routes.step_button, name="step-button"),
    path("lines/", lines.lines, name="lines"),
    path("lines/<int:pk>/", lines.line, name="line"),
    path("work-steps/<int:pk>/", lines.work_steps, name="work-steps"),
    path("cautions/", notes.cautions, name="cautions"),
    path("new-caution/", notes.new_caution, name="new-caution"),
    path("cautions/<slug:code>/", notes.caution, name="caution"),
    path("rests/", notes.rests, name="rests"),
    path("new-rest/", notes.new_rest, name="new-rest"),
    path("rests/<slug:code>/", notes.rest, name="rest"),
]
