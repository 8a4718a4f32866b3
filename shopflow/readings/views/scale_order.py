"""The order of the bass set, as a page to print and as a PDF."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from shopflow.catalogue.models import Shop
from shopflow.common import clock
from shopflow.instruments.selectors import instrument_or_404
from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.readings import scale_paper
from shopflow.readings.selectors.order import Order, order_of
from shopflow.readings.selectors.scale import scale_or_404


def _order(number: str, pk: int, shop: Shop | None) -> Order:
    scale = scale_or_404(instrument_or_404(number), pk)
    return order_of(scale, shop.units if shop else "metric")


@only(Deed.SEE_SHOP)
@require_safe
def order(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    found = _order(number, pk, Shop.objects.first())
    context = {
        "order": found,
        "scale": found.scale,
        "instrument": found.scale.instrument,
        "today": clock.today(),
    }
    return render(request, "readings/scale_order.html", context)


@only(Deed.SEE_SHOP)
@require_safe
def order_pdf(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    shop = Shop.objects.first()
    found = _order(number, pk, shop)
    if not found.lines:
        raise Http404("There is no wound string in this scale.")
    answer = HttpResponse(scale_paper.pdf(found, shop), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="bass-set-{found.scale.instrument.number}.pdf"'
    return answer
