from __future__ import annotations

from copy import copy

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from shopflow.catalogue.forms.shop import ShopForm
from shopflow.catalogue.selectors import the_shop
from shopflow.catalogue.selectors.set_up import how_much_there_is
from shopflow.catalogue.services.shop import change_shop

from .answers import form_page, kept, me, office, saved, sent


@office("GET", "HEAD")
def set_up(request: HttpRequest) -> HttpResponse:
    """The door to everything that a shop changes without a programmer."""
    return render(request, "catalogue/set_up.html", {"there": how_much_there_is()})


@office("GET", "HEAD", "POST")
def shop(request: HttpRequest) -> HttpResponse:
    form = ShopForm(sent(request), instance=copy(the_shop()))
    if kept(form, lambda: change_shop(**form.cleaned_data, by=me(request))):
        return saved(request, "The shop’s own data are kept.", "catalogue:shop")
    return form_page(request, "catalogue/shop.html", form)
