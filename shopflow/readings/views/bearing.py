"""Bearing of the bridges, section by section."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from shopflow.catalogue.models import Caution, SheetKind
from shopflow.common.refusals import Refused
from shopflow.compute.bearing import angle_deg
from shopflow.instruments.models import Instrument
from shopflow.instruments.selectors import instrument_or_404
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.readings.benches import may_write, require_write
from shopflow.readings.forms.touch import BearingForm
from shopflow.readings.selectors.bearing import Belly, belly_of
from shopflow.readings.selectors.scale import units_of_the_shop
from shopflow.readings.services import bearing as services

# An angle beyond this was misread far more often than it is true (common practice, no source).
POSSIBLE_DEG = 6.0


@only(Deed.SEE_SHOP)
@require_http_methods(["GET", "HEAD", "POST"])
def bearing(request: HttpRequest, number: str) -> HttpResponse:
    """All sections before and after; sent, one section is kept."""
    instrument, units = instrument_or_404(number), units_of_the_shop()
    if request.method != "POST":
        first = {
            name: request.GET.get(name, "")[:20] for name in ("phase", "section") if request.GET.get(name)
        }
        first.setdefault("section", _unread(instrument, units))
        return _page(request, instrument, BearingForm(units=units, initial=_usual(units) | first))
    require_write(me(request), SheetKind.SOUNDBOARD)
    form = BearingForm(request.POST, units=units)
    if not form.is_valid():
        return _page(request, instrument, form, status=422)
    said = {name: value for name, value in form.cleaned_data.items() if name != "yes"}
    doubts = _doubts(form)
    if doubts and not form.cleaned_data["yes"]:
        return _page(request, instrument, form, status=422, doubts=doubts)
    typed = " · ".join(
        request.POST.get(name, "") for name in ("front_mm", "front_over_mm", "back_mm", "back_over_mm")
    )
    try:
        kept = services.read_bearing(
            instrument=instrument, by=me(request), typed=typed[:80], measured_again=bool(doubts), **said
        )
    except (Refused, ValidationError) as refused:
        form.add_error(None, refused.message if isinstance(refused, Refused) else refused)
        return _page(request, instrument, form, status=422)
    messages.success(request, f"The bearing of “{kept.section}” is kept.")
    url = f"{request.path}?phase={kept.phase}&section={_following(instrument, units, kept.section)}#read"
    return redirect(url)


def _usual(units: str) -> dict[str, str]:
    return {"front_over_mm": "4", "back_over_mm": "2"} if units == "inch" else {}


def _doubts(form: BearingForm) -> list[str]:
    said, out = form.cleaned_data, []
    for side in ("front", "back"):
        angle = angle_deg(said[f"{side}_mm"], said[f"{side}_over_mm"])
        if abs(angle) > POSSIBLE_DEG:
            out.append(f"{side.capitalize()} {angle:.1f}°; what was read on boards lies between -2 and 3°.")
    return out


def _unread(instrument: Instrument, units: str) -> str:
    """The first section that nobody has read before the work; the first of all where all were."""
    sections = belly_of(instrument, units).sections
    return next((each.name for each in sections if each.before is None), sections[0].name)


def _following(instrument: Instrument, units: str, section: str) -> str:
    names = [each.name for each in belly_of(instrument, units).sections]
    place = names.index(section) + 1 if section in names else 0
    return names[place] if place < len(names) else section


def _page(
    request: HttpRequest,
    instrument: Instrument,
    form: BearingForm,
    *,
    status: int = 200,
    doubts: list[str] | None = None,
) -> HttpResponse:
    belly: Belly = belly_of(instrument, form.units)
    context = {
        "instrument": instrument,
        "belly": belly,
        "form": form,
        "doubts": doubts,
        "may_write": may_write(me(request), SheetKind.SOUNDBOARD),
        "caution": Caution.objects.filter(code="string-tension").first(),
    }
    return render(request, "readings/bearing.html", context, status=status)
