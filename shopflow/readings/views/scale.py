"""The scales of an instrument, and one of them reckoned through."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shopflow.catalogue.models import Caution, SheetKind
from shopflow.common.refusals import Refused
from shopflow.compute.strings import tension_passes
from shopflow.instruments.models import Instrument
from shopflow.instruments.selectors import instrument_or_404
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.people.edits import ChangedMeanwhile
from shopflow.readings import scale_pictures, scale_words
from shopflow.readings.benches import may_write, require_write
from shopflow.readings.forms.scale import RaiseForm, ScaleForm, facts_as_typed
from shopflow.readings.models import StringScale
from shopflow.readings.selectors.scale import Reckoned, reckon, scale_or_404, scales_of, units_of_the_shop
from shopflow.readings.services import scale as services


@only(Deed.SEE_SHOP)
@require_http_methods(["GET", "HEAD", "POST"])
def scales(request: HttpRequest, number: str) -> HttpResponse:
    """All scales of an instrument; sent, a new one is begun."""
    instrument, units = instrument_or_404(number), units_of_the_shop()
    if request.method != "POST":
        return _scales(request, instrument, ScaleForm(units=units, initial=_first(instrument)))
    require_write(me(request), SheetKind.STRINGS)
    form = ScaleForm(request.POST, units=units)
    copy_of = _copied(instrument, request.POST.get("copy_of", ""))
    if form.is_valid():
        made = services.start_scale(instrument=instrument, by=me(request), facts=form.facts, copy_of=copy_of)
        messages.success(request, f"A scale “{made}” is begun.")
        return redirect("readings:scale", number=instrument.number, pk=made.pk)
    return _scales(request, instrument, form, status=422)


def _first(instrument: Instrument) -> dict[str, Any]:
    """What a new scale is likely to be: the next one that the instrument has not got."""
    there = set(instrument.string_scales.values_list("kind", flat=True))
    free = [kind for kind in StringScale.Kind.values if kind not in there]
    return {"kind": free[0] if free else StringScale.Kind.PROPOSED}


def _copied(instrument: Instrument, typed: str) -> StringScale | None:
    return scale_or_404(instrument, int(typed)) if typed.isdecimal() and len(typed) < 12 else None


def _scales(
    request: HttpRequest, instrument: Instrument, form: ScaleForm, *, status: int = 200
) -> HttpResponse:
    context = {
        "instrument": instrument,
        "scales": scales_of(instrument),
        "form": form,
        "may_write": may_write(me(request), SheetKind.STRINGS),
    }
    return render(request, "readings/scales.html", context, status=status)


@only(Deed.SEE_SHOP)
@require_safe
def scale(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """One scale: its sums, its curves, what stands out, note by note."""
    instrument, units = instrument_or_404(number), units_of_the_shop()
    shown = reckon(scale_or_404(instrument, pk), units)
    raising = RaiseForm(request.GET, units=units) if "from_cents" in request.GET else RaiseForm(units=units)
    others = [each for each in scales_of(instrument) if each.pk != pk and getattr(each, "note_count", 0)]
    context = page_context(request, shown) | {
        "curves": scale_pictures.curves(shown),
        "oddities": scale_words.oddities_in_words(shown.figures, units),
        "breaks": scale_words.breaks_in_words(shown.breaks),
        "others": others,
        "raising": raising,
        "passes": _passes(raising, shown),
        "facts_form": ScaleForm(units=units, initial=facts_as_typed(shown.scale, units), auto_id="facts_%s"),
    }
    return render(request, "readings/scale.html", context)


def page_context(request: HttpRequest, shown: Reckoned) -> dict[str, Any]:
    """What every page of one scale needs."""
    return {
        "instrument": shown.scale.instrument,
        "scale": shown.scale,
        "shown": shown,
        "may_write": may_write(me(request), SheetKind.STRINGS),
        "caution": Caution.objects.filter(code="string-tension").first(),
    }


def _passes(form: RaiseForm, shown: Reckoned) -> list[tuple[int, Any, float, float]]:
    """Each pass with what it returns, in kg and as a share."""
    if not form.is_bound or not form.is_valid() or shown.total is None:
        return []
    said = form.cleaned_data
    passes = tension_passes(shown.total.newtons, said["from_cents"], said["aims"])
    return [
        (place, each, each.returned_n / 9.80665, each.returned_share * 100)
        for place, each in enumerate(passes, start=1)
    ]


@only(Deed.READINGS)
@require_POST
def facts(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Change what the scale is and by what it is reckoned."""
    instrument, units = instrument_or_404(number), units_of_the_shop()
    found = scale_or_404(instrument, pk)
    require_write(me(request), SheetKind.STRINGS)
    form = ScaleForm(request.POST, units=units, auto_id="facts_%s")
    if not form.is_valid():
        return _facts_again(request, found, form, 422)
    seen = form.cleaned_data["version"] or 0
    try:
        services.change_scale(scale=found, facts=form.facts, seen_version=seen, by=me(request))
    except ChangedMeanwhile as clash:
        form = ScaleForm(
            {**request.POST.dict(), "version": scale_or_404(instrument, pk).version},
            units=units, auto_id="facts_%s",
        )  # fmt: skip
        form.add_error(None, f"{clash} Look at the scale, then send it again.")
        return _facts_again(request, found, form, 409)
    except (Refused, ValidationError) as refused:
        form.add_error(None, refused.message if isinstance(refused, Refused) else refused)
        return _facts_again(request, found, form, 422)
    messages.success(request, "The scale is changed.")
    return redirect("readings:scale", number=instrument.number, pk=pk)


def _facts_again(request: HttpRequest, found: StringScale, form: ScaleForm, status: int) -> HttpResponse:
    context = page_context(request, reckon(found, form.units)) | {"form": form}
    return render(request, "readings/scale_facts.html", context, status=status)


@only(Deed.READINGS)
@require_POST
def drop(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Throw a proposal or an empty scale away."""
    instrument = instrument_or_404(number)
    found = scale_or_404(instrument, pk)
    try:
        services.drop_scale(scale=found, by=me(request))
    except Refused as refused:
        messages.error(request, refused.message)
        return redirect("readings:scale", number=instrument.number, pk=pk)
    messages.success(request, f"“{found}” is thrown away.")
    return redirect("readings:scales", number=instrument.number)
