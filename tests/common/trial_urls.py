"""Pages that exist only in tests: one form, and a server that answers it as badly as it is told to."""

from __future__ import annotations

import time

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template import engines
from django.urls import include, path

received: list[str] = []

PAGE = """{% extends "base.html" %}{% block content %}
<form id="deed" method="post" action="/answer/" hx-post="/answer/" hx-target="#deed" hx-swap="outerHTML"
      hx-disabled-elt="find button">
  {% csrf_token %}<input id="how" name="how" aria-label="How"><button id="go">Send</button>
</form>
<form id="plain" method="post" action="/answer/">{% csrf_token %}
  <input type="hidden" name="how" value="plain"><button id="plain-go">Send plainly</button></form>
<form id="quick" hx-post="/answer/" hx-target="#out">{% csrf_token %}
  <input type="hidden" name="how" value="slow"><button id="quick-go">Send quickly</button></form>
<div id="out"></div>
<section id="board" hx-get="/board/" hx-trigger="refresh" hx-swap="outerHTML">
  <a href="/there/">There</a></section>
{% endblock %}"""
FORM_AGAIN = (
    '<form id="deed"><p>{}</p><input id="how" name="how" value="{}"><button id="go">Send</button></form>'
)
NEXT_FIRST = (
    '<div id="deed"><button id="go">Again</button><button id="next" data-focus-next>Next</button></div>'
)


def page(request: HttpRequest) -> HttpResponse:
    return HttpResponse(engines["django"].from_string(PAGE).render({}, request))


def answer(request: HttpRequest) -> HttpResponse:
    how = request.POST["how"]
    received.append(how)
    if how == "next":
        return HttpResponse(NEXT_FIRST)
    if how in ("slow", "plain"):
        time.sleep(0.6)
        return HttpResponse(FORM_AGAIN.format("done", ""))
    if how == "409-page":
        return render(request, "409.html", {"words": "Already in Stringing since 10:12."}, status=409)
    return HttpResponse(FORM_AGAIN.format(f"said {how}", how), status=int(how))


def board(request: HttpRequest) -> HttpResponse:
    return HttpResponse('<section id="board"><a href="/there/">There, newer</a></section>')


urlpatterns = [
    path("board/", board),
    path("trial/", page),
    path("answer/", answer),
    path("", include("shopflow.urls")),
]
