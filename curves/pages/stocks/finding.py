"""Stocks for a purpose: what is wished as an address, and the page that answers it."""

from dataclasses import dataclass, field
from itertools import pairwise
from urllib.parse import urlencode

from django import forms
from django.http import QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from curves.models import Purpose
from curves.pages.access import readers_only
from curves.pages.fields import DecimalField
from curves.queries.stock_finder import WISHED, FoundStock, Wishes, stock_finder
from curves.sensitometry import MEASURES
from curves.sensitometry.comparing.picture_wording import GRAIN, SHARPNESS
from curves.sensitometry.comparing.stock_wording import CONTRAST, HIGHLIGHTS
from curves.sensitometry.comparing.word_scales import Scale

#: Name of a wish → its title on the page.
TITLES = {
    "purpose": "purpose",
    "speed": "speed",
    "contrast": "contrast",
    "toe": "shadows",
    "highlights": "highlights",
    "range": "exposure range",
    "grain": "grain",
    "sharpness": "sharpness",
}
Option = tuple[str, float | None, float | None]


def _between(scale: Scale) -> dict[str, Option]:
    """A choice for each word of a scale, with the range that it stands for."""
    ends = [None, *scale.limits, None]
    return {
        word.replace(" ", "-"): (f"{word} ({_range(*pair)})", *pair)
        for word, pair in zip(scale.words, pairwise(ends), strict=True)
    }


def _range(low: float | None, high: float | None) -> str:
    if low is None:
        return f"below {high:g}"
    return f"{low:g} and more" if high is None else f"{low:g} to {high:g}"


CHOICES: dict[str, dict[str, Option]] = {
    "contrast": _between(CONTRAST),
    "toe": {
        "short": ("short toe: open shadows (at most 0.3)", None, 0.3),
        "long": ("long toe: soft shadows (0.5 and more)", 0.5, None),
    },
    "highlights": _between(HIGHLIGHTS),
    "range": {
        "2.2": ("7 stops and more (2.2)", 2.2, None),
        "2.7": ("9 stops and more (2.7)", 2.7, None),
        "3.0": ("10 stops and more (3.0)", 3.0, None),
    },
    "grain": {
        f"{limit:g}": (f"{word}{' or finer' if number else ''} (below {limit:g})", None, limit)
        for number, (limit, word) in enumerate(zip(GRAIN.limits, GRAIN.words[:-1], strict=True))
    },
    "sharpness": {
        f"{limit:g}": (f"{word} or higher ({limit:g} cycles/mm and more)", limit, None)
        for limit, word in zip(SHARPNESS.limits, SHARPNESS.words[1:], strict=True)
    },
}
LABELS = {
    "contrast": "Contrast: average gradient",
    "toe": "Shadows: toe length, log₁₀",
    "highlights": "Highlights: how they separate",
    "range": "Useful exposure range",
    "grain": "Grain: RMS granularity",
    "sharpness": "Sharpness: half modulation",
}


class FinderForm(forms.Form):
    """What is wished; every field may be left open."""

    purpose = forms.MultipleChoiceField(
        label="For", required=False, choices=Purpose.choices, widget=forms.CheckboxSelectMultiple
    )
    speed_from = DecimalField(label="Exposure index from", required=False, min_value=0)
    speed_to = DecimalField(label="Exposure index to", required=False, min_value=0)
    contrast, toe, highlights, range, grain, sharpness = (
        forms.ChoiceField(
            label=LABELS[name],
            required=False,
            choices=[("", "any"), *((key, words) for key, (words, *_) in CHOICES[name].items())],
        )
        for name in CHOICES
    )

    def clean(self):
        """Refuse a range that ends before it begins."""
        low, high = self.cleaned_data.get("speed_from"), self.cleaned_data.get("speed_to")
        if low is not None and high is not None and low > high:
            self.add_error("speed_to", "Give a speed that is not below the first.")
        return self.cleaned_data

    def wishes(self) -> Wishes:
        """Return what is wished, as far as it makes sense."""
        self.is_valid()
        typed = self.cleaned_data
        ranges = {}
        ends = (typed.get("speed_from"), typed.get("speed_to"))
        if ends != (None, None):
            ranges["speed"] = ends
        for name, options in CHOICES.items():
            if typed.get(name):
                ranges[name] = options[typed[name]][1:]
        return Wishes(tuple(typed.get("purpose", ())), ranges)


@dataclass(frozen=True)
class FoundRow:
    """One stock of the answer: its numbers, what is open, an excerpt of what members say."""

    found: FoundStock
    numbers: list[dict] = field(default_factory=list)
    why: list[str] = field(default_factory=list)


@require_safe
@readers_only
def stocks_for(request):
    """Ask for stocks by purpose and measures, and show which do, certainly or perhaps."""
    form = FinderForm(_asked(request.GET))
    wishes = form.wishes()
    view = stock_finder(request.user, wishes, pair_key=request.GET.get("standards", "")[:40])
    context = {
        "form": form,
        "view": view,
        "is_asked": bool(wishes),
        "certain": [_row(found) for found in view.certain],
        "possible": [_row(found) for found in view.possible],
        "excluded": [(found, _against(found)) for found in view.excluded],
        "permalink": request.build_absolute_uri(f"{reverse('stocks_for')}?{_query(request.GET, form)}"),
        "query": _query(request.GET, form),
        "compare_query": urlencode(
            [("standards", view.pair.key if view.pair else "")]
            + [("stock", found.result.stock_id) for found in view.certain[:6]]
        ),
    }
    return render(request, "curves/stocks/for.html", context, status=400 if form.errors else 200)


def _asked(query: QueryDict) -> QueryDict:
    """The form's part of the address; words that are no choice are left out, as on Compare."""
    asked = query.copy()
    for name, options in CHOICES.items():
        if asked.get(name) not in options:
            asked.pop(name, None)
    asked.setlist("purpose", [each for each in asked.getlist("purpose") if each in Purpose.values])
    return asked


def _query(query: QueryDict, form: FinderForm) -> str:
    typed = form.cleaned_data
    parts = [("standards", query["standards"][:40])] if query.get("standards") else []
    parts += [("purpose", each) for each in typed.get("purpose", ())]
    parts += [
        (name, f"{typed[name]:g}") for name in ("speed_from", "speed_to") if typed.get(name) is not None
    ]
    parts += [(name, typed[name]) for name in CHOICES if typed.get(name)]
    return urlencode(parts)


def _row(found: FoundStock) -> FoundRow:
    numbers = [
        {"title": MEASURES[WISHED[answer.name]].title, "measure": answer.measure, "verdict": answer.verdict}
        for answer in found.answers
        if answer.measure is not None and answer.measure.value is not None
    ]
    return FoundRow(found, numbers, [_open(answer) for answer in found.open_answers])


def _open(answer) -> str:
    title = TITLES[answer.name].capitalize()
    return f"{title}: {answer.why or 'its interval reaches beyond what is wished.'}"


def _against(found: FoundStock) -> str:
    return ", ".join(TITLES[answer.name] for answer in found.against)
