"""A change order as its customer sees it on a phone: what it is, the choices, and one explicit act."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.customers.models import PrivateLink
from shopflow.offers.door import for_customer, nothing_here
from shopflow.offers.forms.changes import AnswerForm
from shopflow.offers.models import ChangeOrder
from shopflow.offers.selectors.changes import told_change
from shopflow.offers.services import answers


@for_customer
@require_http_methods(["GET", "HEAD", "POST"])
def change(request: HttpRequest, link: PrivateLink, change_number: int) -> HttpResponse:
    """A GET shows and never answers; a POST with a typed name answers once."""
    row = told_change(link.instrument, change_number)
    if row is None:
        return nothing_here(request)
    if request.method != "POST":
        return _page(request, row)
    form = AnswerForm(request.POST)
    if not form.is_valid():
        return _page(request, row, form=form, status=422)
    said = form.cleaned_data
    try:
        answers.answer(
            change=row,
            choice_id=said["choice"],
            typed_name=said["typed_name"],
            fingerprint=said["fingerprint"],
            link=link,
        )
    except Refused as refused:
        return _page(request, told_change(link.instrument, change_number) or row, refused=refused)
    return redirect("offers:yours-change", row.number)


def _page(
    request: HttpRequest,
    row: ChangeOrder,
    *,
    form: AnswerForm | None = None,
    refused: Refused | None = None,
    status: int = 200,
) -> HttpResponse:
    context: dict[str, Any] = {
        "change": row,
        "words": row.frozen,
        "form": form,
        "chosen": form.data.get("choice", "") if form else "",
        "refused": refused.message if refused else "",
        "today": clock.today(),
    }
    return render(request, "offers/yours_change.html", context, status=refused.status if refused else status)
