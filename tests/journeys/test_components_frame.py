"""The frame with its parts in a browser: no accessibility fault in any theme, usable without a mouse."""

from types import SimpleNamespace

import pytest
from axe_playwright_python.sync_playwright import Axe
from django import forms
from django.core.paginator import Paginator

from curves.sensitometry.measures import Measure, withheld
from labsite.templatetags.components import BADGES
from tests.journeys.component_site import ComponentSite

pytestmark = pytest.mark.journey

PAGE = """{% extends "base.html" %}{% load navigation components measures %}
{% block title %}Parts{% endblock %}{% block heading %}Parts{% endblock %}
{% block breadcrumb %}{% breadcrumb "Stocks" "/stocks/" "Parts" %}{% endblock %}
{% block lead %}<p class="page-lead">All parts on one page.</p>{% endblock %}
{% block actions %}{% include "components/action.html" with label="Plan" url="/x/" kind="primary" only %}
{% include "components/confirm_form.html" with id="v" label="Void" title="?" url="/x/" confirm_url="/" only %}
{% endblock %}
{% block content %}
{% include "components/tabs.html" with tabs=tabs label="Parts of a roll" only %}
{% include "components/form_errors.html" with form=form only %}
{% panel "A form" %}<form class="form">{% for field in form %}
{% include "components/field.html" with field=field only %}{% endfor %}
<button class="button">Save</button></form>
{% endpanel %}
{% include "components/filters.html" with form=filters target="results" only %}
<div id="results">{% table_scroll "Stocks" %}<table class="table table-pinned"><thead><tr>
{% sort_header "name" "Stock" %}{% sort_header "speed" "Speed" unit="ISO" numeric=True %}</tr></thead><tbody>
<tr class="is-reference is-lit"><th scope="row"><a href="/x/">Alder 100</a></th>
<td class="number">{% measure value compact=True %}</td></tr>
<tr><th scope="row">Birchwater 50</th><td class="number">{% measure none compact=True %}</td></tr>
</tbody></table>
{% endtable_scroll %}{% pagination rows "rolls" %}</div>
{% panel "States" %}<p>{% for state in states %}{% badge state %} {% endfor %}</p>{% endpanel %}
{% panel "Measures" %}{% include "components/facts.html" with facts=facts only %}
<p>{% measure none %}</p>{% endpanel %}
{% callout "note" %}<p>Read <a href="/x/">this</a>.</p>{% endcallout %}
{% callout "warning" %}<p>Step 7 falls.</p>{% endcallout %}
{% callout "caution" %}<p>Wear gloves.</p>{% endcallout %}
{% include "components/empty.html" with title="No rolls yet" text="Plan one." url="/x/" action="Plan" only %}
{% endblock %}"""


class RollForm(forms.Form):
    stock = forms.CharField(help_text="As on the box.")
    exposed_on = forms.DateField(required=False, widget=forms.DateInput(attrs={"type": "date"}))
    strips = forms.ChoiceField(widget=forms.RadioSelect, choices=[("1", "One"), ("3", "Three")])
    is_blind = forms.BooleanField(required=False)
    note = forms.CharField(widget=forms.Textarea, required=False)


class Filters(forms.Form):
    q = forms.CharField(required=False, label="Name")
    state = forms.ChoiceField(required=False, choices=[("", "Any"), ("draft", "Draft")])


class Message(str):
    """What the framework's messages look like to a template."""

    def __new__(cls, text, level_tag):
        message = super().__new__(cls, text)
        message.level_tag = level_tag
        return message


@pytest.fixture
def site(chromium):
    site = ComponentSite(chromium)
    yield site
    site.close()


def open_parts(site, theme, form=None, **options):
    site.put_page(
        "/stocks/parts/",
        PAGE,
        theme=theme,
        lab=SimpleNamespace(name="Fernhill Film Lab", is_demo=True, is_open_to_visitors=True),
        user=SimpleNamespace(initials="OO", username="owner", display_name="Ola Ownfield"),
        is_member=True,
        messages=[Message("The run has no strip.", "error"), Message("The roll was saved.", "success")],
        tabs=[
            {"title": "Curve", "url": "/x/", "is_current": True},
            {"title": "Log", "url": "/y/", "count": 4},
        ],
        form=form or RollForm({}),
        filters=Filters(),
        rows=Paginator(range(95), 10).get_page(4),
        states=list(BADGES),
        facts=[("Batch", "B-17"), ("Storage", None)],
        value=Measure("iso_speed_exact", 103.7, 92.1, 118.9, "ISO"),
        none=withheld("iso_speed", "UNCALIBRATED"),
    )
    return site.open("/stocks/parts/", **options)


@pytest.mark.parametrize("theme", ["light", "dark", "safelight"])
@pytest.mark.parametrize("width", [320, 1280])
def test_no_accessibility_fault_and_nothing_beyond_the_edge(site, theme, width):
    page = open_parts(site, theme, viewport={"width": width, "height": 900})
    page.locator(".rail summary").click()
    found = Axe().run(page).response["violations"]
    assert [(each["id"], [node["target"] for node in each["nodes"]]) for each in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") == width


def test_the_first_key_leads_past_the_doors(site):
    page = open_parts(site, "light", form=RollForm())
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the content"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"


def test_everything_to_act_on_shows_its_focus(site):
    """Each stop of the Tab key has an outline or, in a menu, one of its own (WCAG 2.2, 2.4.7)."""
    page = open_parts(site, "light")
    page.evaluate("document.activeElement.blur()")
    bare = []
    for _ in range(60):
        page.keyboard.press("Tab")
        name, outline = page.evaluate(
            """() => {
              const style = getComputedStyle(document.activeElement);
              const name = document.activeElement.outerHTML.slice(0, 80);
              return [name, document.activeElement === document.body ? 3 : parseFloat(style.outlineWidth)];
            }"""
        )
        if outline < 2:
            bare.append(name)
    assert bare == []


def test_forced_colours_keep_the_current_door_and_the_pressed_theme_apart(site):
    """In the high-contrast mode of a system backgrounds and shadows go; borders and weight stay."""
    page = open_parts(site, "light", forced_colors="active")
    style = "e => [getComputedStyle(e).fontWeight, getComputedStyle(e).borderBottomColor]"
    here = page.locator(".doors [aria-current]").evaluate(style)
    other = page.locator(".doors a:not([aria-current])").first.evaluate(style)
    assert here[0] > other[0]
