"""The frame of every page and its parts: what they show, and that they keep to their promises."""

import re
from types import SimpleNamespace

import pytest
from django import forms
from django.core.paginator import Paginator
from django.template import Context, TemplateSyntaxError, engines
from django.test import RequestFactory

from curves.sensitometry import MEASURES
from curves.sensitometry.measures import Measure, withheld
from labsite.templatetags.components import BADGES
from labsite.templatetags.measures import decimals_for, interval_text, number_text

LAB = SimpleNamespace(name="Fernhill Film Lab", is_demo=False, is_open_to_visitors=True)


def render(source, path="/stocks/?sort=name&q=alder", **context):
    template = engines["django"].from_string("{% load navigation components measures %}" + source).template
    # The site's context processors need a database; components are given what they need by name.
    return template.render(Context({"request": RequestFactory().get(path), **context}))


def text_of(html):
    return " ".join(re.sub(r"<[^>]*>", " ", html).split())


# --- The frame


def page(path="/stocks/12/", **context):
    values = {"lab": LAB, "theme": "dark", "is_member": False, "is_admin": False, "user": None} | context
    source = (
        '{% extends "base.html" %}{% block title %}Alder{% endblock %}{% block heading %}Alder{% endblock %}'
    )
    request = RequestFactory().get(path)
    template = engines["django"].from_string(source).template
    return template.render(Context({"request": request, "messages": [], **values}))


def test_frame_has_theme_title_skip_link_and_main():
    html = page()
    assert '<html lang="en-GB" data-theme="dark">' in html
    assert "<title>Alder · Common Grey</title>" in html
    assert '<a class="skip-link" href="#main">' in html
    assert 'id="main" tabindex="-1"' in html
    assert html.count("<h1>") == 1


@pytest.mark.parametrize(
    ("path", "door"),
    [("/stocks/12/", "Stocks"), ("/rolls/3/readings/", "Bench"), ("/control/", "Control"), ("/", None)],
)
def test_the_door_one_came_through_is_marked(path, door):
    current = re.findall(r'<a href="[^"]*" aria-current="[^"]*">(\w+)</a>', page(path))
    assert current == ([door] if door else [])


def test_a_view_may_name_its_door():
    assert re.findall(r'aria-current="true">(\w+)<', page("/somewhere/", door="lab")) == ["Lab"]


def test_demo_data_is_marked_on_every_page_of_a_demo_lab_only():
    demo = SimpleNamespace(**{**vars(LAB), "is_demo": True})
    assert "Demo data." in text_of(page(lab=demo))
    assert "Demo data." not in text_of(page())


def test_visitors_are_offered_to_sign_in_and_members_to_sign_out():
    user = SimpleNamespace(initials="OO", username="owner", display_name="Ola Ownfield")
    visitor, member = page(), page(is_member=True, user=user)
    assert "Sign in" in text_of(visitor) and "Sign out" not in text_of(visitor)
    assert "?next=/stocks/12/" in visitor
    assert "Sign out" in text_of(member) and "Ola Ownfield" in text_of(member)


def test_frame_stands_without_any_context():
    """Error pages have no request and no lab."""
    html = engines["django"].from_string('{% extends "base.html" %}').template.render(Context({}))
    assert 'data-theme="system"' in html and "Common Grey" in html


def test_safelight_comes_with_its_caution():
    assert "No screen is safe near panchromatic film." in text_of(page())


# --- Lists


def test_sort_header_turns_round_and_keeps_the_filters_but_not_the_page():
    source = '{% sort_header "name" "Stock" %}{% sort_header "speed" "Speed" unit="ISO" numeric=True %}'
    html = render(source, path="/stocks/?sort=name&q=alder&page=3")
    assert 'aria-sort="ascending"><a class="sort" href="?sort=-name&amp;q=alder">' in html
    assert 'class="number"><a class="sort" href="?sort=speed&amp;q=alder">' in html


def test_pagination_keeps_the_filters_and_says_where_one_is():
    rows = Paginator(range(95), 10).get_page(4)
    html = render('{% pagination rows "rolls" %}', path="/rolls/?q=a%26b", rows=rows)
    assert "31 to 40 of 95 rolls" in text_of(html)
    assert 'href="?q=a%26b&amp;page=5" rel="next"' in html
    assert re.search(r'aria-current="page"><span class="visually-hidden">Page </span>4<', html)


def test_pagination_of_one_page_or_none_has_no_links():
    one, none = Paginator([1, 2], 10).get_page(1), Paginator([], 10).get_page(1)
    assert "<nav" not in render("{% pagination rows %}", rows=one)
    assert text_of(render('{% pagination rows "rolls" %}', rows=none)) == "No rolls"


def test_breadcrumb_ends_with_this_page():
    html = render('{% breadcrumb "Stocks" "/stocks/" name %}', name="Alder <100>")
    assert '<a href="/stocks/">Stocks</a>' in html
    assert '<span aria-current="page">Alder &lt;100&gt;</span>' in html


# --- States, callouts, panels


@pytest.mark.parametrize("state", BADGES)
def test_badge_says_its_state_in_words_and_by_a_shape_of_its_own(state):
    html = render("{% badge state %}", state=state)
    assert text_of(html) == BADGES[state][0]
    drawn = re.search(r"<svg[^>]*>(.+?)</svg>", html, re.S)
    assert drawn and drawn[1].strip()


def test_states_of_a_roll_and_of_a_run_differ_in_shape():
    for group in (
        ["draft", "submitted", "returned", "accepted", "void", "withdrawn"],
        ["in_control", "out_of_control", "unproven"],
        ["queued", "running", "done", "failed", "cancelled"],
    ):
        assert len({BADGES[state][1] for state in group}) == len(group)


def test_badge_shows_an_unknown_state_as_it_is():
    assert text_of(render('{% badge "half_done" %}')) == "half done"


def test_callout_says_its_kind_and_refuses_an_unknown_one():
    html = render('{% callout "caution" %}<p>Gloves.</p>{% endcallout %}')
    assert text_of(html) == "Caution Gloves." and "<p>Gloves.</p>" in html
    with pytest.raises(TemplateSyntaxError, match="note, warning, caution"):
        render('{% callout "danger" %}x{% endcallout %}')


def test_panel_is_named_by_its_heading():
    html = render('{% panel "Base plus fog" %}<p>0.21</p>{% endpanel %}')
    assert 'aria-labelledby="base-plus-fog"' in html and '<h2 id="base-plus-fog">Base plus fog</h2>' in html


def test_table_region_can_be_reached_by_keyboard():
    html = render('{% table_scroll "Rolls" %}<table></table>{% endtable_scroll %}')
    assert 'role="region" aria-label="Rolls" tabindex="0"' in html


# --- Measures


def shown(measure, **options):
    extra = "".join(f" {name}={value!r}" for name, value in options.items())
    return text_of(render("{% measure m" + extra + " %}", m=measure))


@pytest.mark.parametrize(
    ("measure", "expected"),
    [
        (Measure("average_gradient_150", 0.613, 0.604, 0.622), "0.613 ± 0.009"),
        (
            Measure("speed_point_log_exposure", -2.143, -2.163, -2.123, "log10 lx s"),
            "−2.14 ± 0.02 log₁₀ lux·s",
        ),
        (Measure("iso_speed_exact", 103.7, 92.1, 118.9, "ISO"), "ISO 104 (92 to 119)"),
        (Measure("d_max", 2.412, 2.39, None, "D"), "≥ 2.41 D"),
        (Measure("iso_degree", 21, 20, 22, "degree"), "21 ± 1 degrees"),
        (Measure("toe_length", 0.3, None, 0.35), "≤ 0.30"),
        (
            withheld("iso_speed", "UNCALIBRATED"),
            "Withheld. The exposure is relative: the absolute exposure in lux seconds is not known.",
        ),
    ],
)
def test_measure_shows_value_unit_and_interval_or_its_reason(measure, expected):
    assert shown(measure) == expected
    assert shown(measure.to_dict(), name=measure.name) == expected


def test_measure_in_a_cell_leaves_the_unit_to_the_heading_and_keeps_the_reason():
    assert shown(Measure("base_plus_fog", 0.22, 0.21, 0.23, "D"), compact=True) == "0.22 ± 0.01"
    html = render("{% measure m compact=True %}", m=withheld("iso_speed", "NO_BASE_FOG"))
    assert "No unexposed area was read" in html and 'data-reason="NO_BASE_FOG"' in html


def test_a_column_keeps_the_registry_s_decimals_so_that_its_points_align():
    wide = Measure("contrast_index", 0.5834, 0.38, 0.78)
    assert MEASURES["contrast_index"].decimals == 3
    assert shown(wide, compact=True) == "0.583 ± 0.203"
    assert shown(wide) == "0.6 ± 0.2"


def test_a_speed_shows_no_digits_that_its_interval_does_not_support_in_a_column_either():
    """Speeds go from 3 to 3200: a column of one decimal would promise a tenth of 400 ± 80."""
    assert shown(Measure("exposure_index", 412.34, 340.2, 499.8, "EI"), compact=True) == "412 (340 to 500)"
    assert shown(Measure("exposure_index", 5.84, 5.43, 6.25, "EI"), compact=True) == "5.8 ± 0.4"
    assert shown(Measure("iso_speed", 400.0, 320.0, 500.0, "ISO"), compact=True) == "400 (320 to 500)"


def test_an_interval_without_zero_does_not_read_as_if_it_held_it():
    real = Measure("base_difference", 0.018, 0.002, 0.034, "D")
    assert shown(real, compact=True) == "0.018 ± 0.016"
    assert shown(Measure("base_difference", -0.018, -0.034, -0.002, "D"), compact=True) == "−0.018 ± 0.016"
    uneven = Measure("base_difference", 0.03, 0.004, 0.036, "D")
    assert shown(uneven, compact=True) == "0.030 (0.004 to 0.036)"
    hardly = Measure("base_difference", -0.302, -0.606, -0.0002, "D")
    assert shown(hardly, compact=True) == "−0.30 ± 0.30", "one digit more would not tell"
    open_ = Measure("base_difference", 0.018, -0.002, 0.038, "D")
    assert shown(open_, compact=True) == "0.02 ± 0.02", "which does hold it"


def test_measure_that_is_missing_altogether_is_no_number():
    assert shown(None) == "Withheld. Not measured."


@pytest.mark.parametrize(
    # JCGM 100:2008 (GUM) 7.2.6: at most two significant digits of an uncertainty.
    ("spread", "decimals"),
    [
        (0.02, 2),
        ((2.163 - 2.123) / 2, 2),
        (0.012, 3),
        (0.0004, 3),
        (0.3, 1),
        (0.15, 2),
        (13.4, 0),
        (2.5, 0),
        (None, 2),
        (0.0, 2),
    ],
)
def test_decimals_follow_the_uncertainty(spread, decimals):
    assert decimals_for(spread) == decimals


def test_numbers_have_a_true_minus_and_no_negative_zero():
    assert number_text(-0.004, 2) == "0.00"
    assert number_text(-1.5, 1) == "−1.5"
    assert interval_text(1.0, 0.9, 1.1, 1) == "± 0.1"
    # An interval that leaves its value out is never shown as "±".
    assert interval_text(1.0, 1.05, 1.15, 2) == "(1.05 to 1.15)"


def test_units_are_written_as_they_are_read():
    assert render(
        "{{ a|unit_text }}, {{ b|unit_text }}, [{{ c|unit_text }}]", a="log10 lx s", b="D", c=None
    ) == ("log₁₀ lux·s, D, []")


def test_filters_write_densities_and_differences():
    html = render(
        "{{ a|density }} {{ b|density }} {{ c|signed }} {{ d|signed:1 }}", a=0.333, b=None, c=0.5, d=-2
    )
    assert html == "0.33 – +0.50 −2.0"


@pytest.mark.parametrize("value", [0.0, -0.0, 0.0004, -0.0004])
def test_nothing_that_rounds_to_zero_has_a_sign(value):
    assert render("{{ a|signed:3 }}", a=value) == "0.000"


# --- Forms


class RollForm(forms.Form):
    stock = forms.CharField(help_text="As on the box.")
    note = forms.CharField(required=False)
    strips = forms.ChoiceField(widget=forms.RadioSelect, choices=[("1", "One"), ("3", "Three")])
    is_blind = forms.BooleanField(required=False)
    token = forms.CharField(widget=forms.HiddenInput, required=False)


def field(form, name, **options):
    extra = "".join(f" {key}={value!r}" for key, value in options.items())
    source = '{% include "components/field.html" with field=form.' + name + extra + " only %}"
    return render(source, form=form)


def test_field_ties_label_help_and_error_to_its_input():
    html = field(RollForm({"stock": ""}), "stock")
    assert '<label for="id_stock">Stock</label>' in html
    described = re.search(r'aria-describedby="([^"]+)"', html)[1].split()
    assert described == ["id_stock_helptext", "id_stock_error"]
    for name in described:
        assert f'id="{name}"' in html
    assert 'aria-invalid="true"' in html


def test_field_says_what_is_optional_and_groups_choices():
    assert text_of(field(RollForm(), "note")) == "Note (optional)"
    radios = field(RollForm(), "strips")
    assert "<fieldset" in radios and "<legend>Strips</legend>" in radios and radios.count('type="radio"') == 2
    assert "<label" not in field(RollForm(), "token")
    assert "°C" in field(RollForm(), "note", unit="°C")


def test_form_errors_name_every_field_and_stay_away_when_all_is_well():
    source = '{% include "components/form_errors.html" with form=form only %}'
    html = render(source, form=RollForm({}))
    assert '<a href="#id_stock">Stock</a>: This field is required.' in html
    assert 'role="alert"' in html and html.count("<li>") == 2
    assert render(source, form=RollForm({"stock": "a", "strips": "1"})).strip() == ""


def test_posting_parts_carry_the_csrf_token():
    action = (
        '{% include "components/action.html" with label="Go" url="/x/" post=True csrf_token=token only %}'
    )
    confirm = (
        '{% include "components/confirm_form.html" with id="void" label="Void" title="Void it?" url="/x/" '
        'confirm_url="/x/sure/" asks_reason=True csrf_token=token only %}'
    )
    for source in (action, confirm):
        assert 'name="csrfmiddlewaretoken" value="abc"' in render(source, token="abc")
    html = render(confirm, token="abc")
    assert 'href="/x/sure/"' in html and 'action="/x/"' in html and 'name="reason" required' in html


# --- Plot


def test_plot_carries_its_figure_its_description_and_the_way_to_its_table():
    figure = {"data": [], "layout": {}, "meta": {"description": "Two curves </script><b>."}}
    source = '{% include "components/plot.html" with id="p" title="Curves" figure=figure table="t" only %}'
    html = render(source, figure=figure)
    assert 'data-figure="p-figure"' in html and '<script id="p-figure" type="application/json">' in html
    assert html.count("</script>") == 1, "text of the figure must not end its script element"
    assert 'aria-describedby="p-description"' in html and 'href="#t"' in html
    assert re.search(r'class="plot-canvas"[^>]*aria-hidden="true"', html)


def test_a_table_cell_says_in_short_why_a_value_is_withheld():
    html = render(
        "{% load measures %}{% measure m compact=True %}", m=withheld("iso_speed", "CONTRAST_NOT_MET", "ISO")
    )
    assert ">contrast not met</span>" in html
    assert "no ISO speed may be stated" in html, "the whole sentence is there for screen readers and pointers"


def test_an_interval_within_one_step_of_a_scale_is_no_certainty():
    html = render(
        "{% load measures %}{% measure m %}", m=Measure("iso_speed", 80.0, 80.0, 80.0, "ISO", None, "")
    )
    assert "± 0" not in html
    assert "(80 to 80)" in html
