"""How the keys of an instrument play: the picture, and fast entry key after key."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shopflow.catalogue.models import Caution, SheetKind
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.instruments.selectors import instrument_or_404
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.readings import keyboard_picture, touch_words
from shopflow.readings.benches import may_write, require_write
from shopflow.readings.forms.touch import LeadPlanForm, WeightForm
from shopflow.readings.models import Phase
from shopflow.readings.note_names import note_name
from shopflow.readings.selectors.scale import units_of_the_shop
from shopflow.readings.selectors.touch import Weighed, lead_lines, weighed
from shopflow.readings.services import touch as services

from .spoken import spoken

EVERY = (1, 4, 11)


@only(Deed.SEE_SHOP)
@require_safe
def touch(request: HttpRequest, number: str) -> HttpResponse:
    """Weights of all keys, before and after, what stands out, and the lead that would even them."""
    instrument, units = instrument_or_404(number), units_of_the_shop()
    found = weighed(instrument)
    before, after = found[Phase.BEFORE], found[Phase.AFTER]
    latest = before if after.is_empty else after
    form = LeadPlanForm(request.GET, units=units) if "wanted_g" in request.GET else _lead_plan(units)
    context = {
        "instrument": instrument,
        "before": before,
        "after": after,
        "latest": latest,
        "means": (before, after),
        "pictures": keyboard_picture.keyboards(before, after),
        "odd": touch_words.odd_in_words(latest.odd),
        "form": form,
        "lead": _lead(form, latest),
        "is_asked": form.is_bound and form.is_valid(),
        "rows": _rows(before, after),
        "may_write": may_write(me(request), SheetKind.ACTION),
        "caution": Caution.objects.filter(code="lead").first(),
        "every": EVERY,
    }
    return render(request, "readings/touch.html", context)


def _lead_plan(units: str) -> LeadPlanForm:
    is_inch = units == "inch"
    return LeadPlanForm(
        units=units,
        initial={"lead_at_mm": "5.1" if is_inch else "130", "felt_at_mm": "8.3" if is_inch else "210"},
    )


def _lead(form: LeadPlanForm, latest: Weighed) -> list[Any]:
    if not form.is_bound or not form.is_valid():
        return []
    said = form.cleaned_data
    return lead_lines(
        latest.keys.values(),
        wanted_g=said["wanted_g"],
        lead_at_mm=said["lead_at_mm"],
        felt_at_mm=said["felt_at_mm"],
    )


def _rows(before: Weighed, after: Weighed) -> list[tuple[int, str, Any, Any]]:
    notes = sorted(before.keys.keys() | after.keys.keys())
    return [(note, note_name(note), before.keys.get(note), after.keys.get(note)) for note in notes]


@only(Deed.READINGS)
@require_http_methods(["GET", "HEAD", "POST"])
def key(request: HttpRequest, number: str, phase: str, note: int) -> HttpResponse:
    """Down and up weight of one key; sent, it is kept and the next one is there."""
    instrument = _instrument(request, number, phase, note)
    every = _every(request)
    if request.method != "POST":
        return _page(request, instrument, phase, note, every)
    form = WeightForm(request.POST, units=units_of_the_shop())
    if not form.is_valid():
        return _page(request, instrument, phase, note, every, form=form, status=422)
    down, up = form.cleaned_data["down_g"], form.cleaned_data["up_g"]
    doubts = touch_words.doubts(down, up)
    if doubts and "yes" not in request.POST:
        return _page(request, instrument, phase, note, every, form=form, status=422, doubts=doubts)
    typed = f"{request.POST['down_g']} / {request.POST['up_g']} g"[:40]
    try:
        services.weigh_key(
            instrument=instrument,
            phase=phase,
            note=note,
            down_g=down,
            up_g=up,
            by=me(request),
            typed=typed,
            measured_again=bool(doubts),
        )
    except Refused as refused:
        form.add_error(refused.field if refused.field in form.fields else None, refused.message)
        return _page(request, instrument, phase, note, every, form=form, status=422)
    messages.success(request, f"Key {note} ({note_name(note)}): {down:g} down, {up:g} up.")
    if note + every > 88:
        return redirect("readings:touch", number=instrument.number)
    return redirect(_url(instrument, phase, note + every, every))


@only(Deed.READINGS)
@require_POST
def strike(request: HttpRequest, number: str, phase: str, note: int) -> HttpResponse:
    """Take one key's weights off the account."""
    instrument = _instrument(request, number, phase, note)
    services.strike_key(instrument=instrument, phase=phase, note=note, by=me(request))
    messages.success(request, f"The weights of key {note} are struck.")
    return redirect(_url(instrument, phase, note, 1))


def _instrument(request: HttpRequest, number: str, phase: str, note: int) -> Instrument:
    instrument = instrument_or_404(number)
    require_write(me(request), SheetKind.ACTION)
    if phase not in (Phase.BEFORE, Phase.AFTER) or not 1 <= note <= 88:
        raise Http404("There is no such key.")
    return instrument


def _every(request: HttpRequest) -> int:
    typed = request.POST.get("every") or request.GET.get("every") or "1"
    return int(typed) if typed in {str(each) for each in EVERY} else 1


def _url(instrument: Instrument, phase: str, note: int, every: int) -> str:
    url = reverse("readings:touch-key", args=[instrument.number, phase, note])
    return f"{url}?every={every}" if every > 1 else url


def _page(
    request: HttpRequest,
    instrument: Instrument,
    phase: str,
    note: int,
    every: int,
    *,
    form: WeightForm | None = None,
    status: int = 200,
    **more: Any,
) -> HttpResponse:
    found = weighed(instrument)[phase]
    standing, last = found.keys.get(note), found.keys.get(note - every)
    first = {"down_g": f"{standing.row.down_g:g}", "up_g": f"{standing.row.up_g:g}"} if standing else {}
    context = {
        **spoken(request),
        "instrument": instrument,
        "phase": phase,
        "phase_words": found.label,
        "note": note,
        "name": note_name(note),
        "every": every,
        "standing": standing,
        "last": last,
        "count": len(found.keys),
        "form": form or WeightForm(units=units_of_the_shop(), initial=first),
        "before_url": _url(instrument, phase, note - every, every) if note > every else "",
        "after_url": _url(instrument, phase, note + every, every) if note + every <= 88 else "",
        **more,
    }
    return render(request, "readings/touch_key.html", context, status=status)
