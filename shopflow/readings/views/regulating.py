"""What an action is regulated to, and its sample notes."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from shopflow.catalogue.models import SheetKind
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.instruments.selectors import instrument_or_404
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.people.edits import ChangedMeanwhile
from shopflow.readings.benches import may_write, require_write
from shopflow.readings.forms.touch import SampleForm, ValueForm
from shopflow.readings.models import RegulatingValue
from shopflow.readings.regulating_defaults import SAMPLE_NOTES, USUAL
from shopflow.readings.selectors.scale import units_of_the_shop
from shopflow.readings.selectors.touch import Regulated, regulated
from shopflow.readings.services import touch as services
from shopflow.readings.wires import FINE


@only(Deed.SEE_SHOP)
@require_http_methods(["GET", "HEAD", "POST"])
def regulating(request: HttpRequest, number: str) -> HttpResponse:
    """The values of this instrument; sent, it begins with the usual ones of its kind."""
    instrument = instrument_or_404(number)
    if request.method == "POST":
        services.begin_values(instrument=instrument, by=me(request))
        messages.success(
            request, "The usual values stand here to begin with. Make them this instrument’s own."
        )
        return redirect("readings:regulating", number=instrument.number)
    return _page(request, instrument)


@only(Deed.READINGS)
@require_POST
def value(request: HttpRequest, number: str, code: str) -> HttpResponse:
    """Make a value the instrument's own."""
    instrument, units = instrument_or_404(number), units_of_the_shop()
    require_write(me(request), SheetKind.ACTION)
    row = _value(instrument, code)
    form = ValueForm(request.POST, units=units, auto_id=f"{code}_%s")
    if not form.is_valid():
        return _page(request, instrument, status=422, forms_={code: form})
    said = form.cleaned_data
    try:
        services.set_value(
            value=row,
            bass_mm=said["bass_mm"],
            treble_mm=said["treble_mm"],
            tolerance_mm=said["tolerance_mm"],
            seen_version=said["version"],
            by=me(request),
        )
    except ChangedMeanwhile as clash:
        row.refresh_from_db()
        form = ValueForm({**request.POST.dict(), "version": row.version}, units=units, auto_id=f"{code}_%s")
        form.add_error(
            None, f"{clash} It stands at {_shown(row, units)} now; send yours once more to put it there."
        )
        return _page(request, instrument, status=409, forms_={code: form})
    except ValidationError as wrong:
        form.add_error(None, wrong)
        return _page(request, instrument, status=422, forms_={code: form})
    messages.success(request, f"{row.name} is this instrument’s own now.")
    return redirect("readings:regulating", number=instrument.number)


@only(Deed.READINGS)
@require_POST
def sample(request: HttpRequest, number: str, code: str) -> HttpResponse:
    """One dimension read at one note."""
    instrument, units = instrument_or_404(number), units_of_the_shop()
    require_write(me(request), SheetKind.ACTION)
    row = _value(instrument, code)
    form = SampleForm(request.POST, units=units, auto_id=f"{code}_sample_%s")
    if not form.is_valid():
        return _page(request, instrument, status=422, samples={code: form})
    said = form.cleaned_data
    try:
        services.read_sample(
            value=row, phase=said["phase"], note=said["note"], read_mm=said["read_mm"], by=me(request)
        )
    except Refused as refused:
        form.add_error(None, refused.message)
        return _page(request, instrument, status=422, samples={code: form})
    messages.success(request, f"{row.name} at note {said['note']} is kept.")
    following = next((note for note in SAMPLE_NOTES if note > said["note"]), said["note"])
    url = f"{request.path.rsplit(f'{code}/', 1)[0]}?note={following}&phase={said['phase']}#{code}"
    return redirect(url)


def _value(instrument: Instrument, code: str) -> RegulatingValue:
    row = instrument.regulating_values.filter(code=code).first()
    if row is None:
        raise Http404("There is no such value of this instrument.")
    return row


def _shown(row: RegulatingValue, units: str) -> str:
    return f"{FINE.written(row.bass_mm, units)} to {FINE.written(row.treble_mm, units)}"


def _page(
    request: HttpRequest,
    instrument: Instrument,
    *,
    status: int = 200,
    forms_: dict[str, ValueForm] | None = None,
    samples: dict[str, SampleForm] | None = None,
) -> HttpResponse:
    units = units_of_the_shop()
    given, read = forms_ or {}, samples or {}
    first = {
        "phase": request.GET.get("phase", "before"),
        "note": request.GET.get("note", str(SAMPLE_NOTES[0]))[:4],
    }
    parts = [
        _part(each, units, given.get(each.value.code), read.get(each.value.code), first)
        for each in regulated(instrument)
    ]
    context = {
        "instrument": instrument,
        "parts": parts,
        "usual": USUAL[instrument.kind],
        "may_write": may_write(me(request), SheetKind.ACTION),
        "unit": FINE.unit(units).name,
    }
    return render(request, "readings/regulating.html", context, status=status)


def _part(
    each: Regulated, units: str, form: ValueForm | None, read: SampleForm | None, first: dict[str, str]
) -> dict[str, Any]:
    row, unit, places = each.value, FINE.unit(units), FINE.places(units)

    def shown(mm: float | None) -> str:
        return "–" if mm is None else f"{unit.shown(mm):.{places}f}"

    initial = {name: shown(getattr(row, name)) for name in ("bass_mm", "treble_mm", "tolerance_mm")}
    samples = [
        (
            sample,
            shown(sample.aim_mm),
            _read(sample.before, shown),
            _read(sample.after, shown),
            _off(sample.off_mm, shown),
        )
        for sample in each.samples
    ]
    return {
        "row": row,
        "aim": shown(row.bass_mm)
        if row.bass_mm == row.treble_mm
        else f"{shown(row.bass_mm)} to {shown(row.treble_mm)}",
        "tolerance": shown(row.tolerance_mm),
        "form": form
        or ValueForm(units=units, initial=initial | {"version": row.version}, auto_id=f"{row.code}_%s"),
        "is_open": form is not None,
        "sample_form": read or SampleForm(units=units, initial=first, auto_id=f"{row.code}_sample_%s"),
        "samples": samples,
        "off_count": each.off_count,
    }


def _read(sample: Any, shown: Any) -> str:
    return shown(sample.read_mm) if sample else "–"


def _off(off_mm: float | None, shown: Any) -> str:
    if off_mm is None:
        return "not read"
    if not off_mm:
        return "within"
    return f"{shown(abs(off_mm))} too {'much' if off_mm > 0 else 'little'}"
