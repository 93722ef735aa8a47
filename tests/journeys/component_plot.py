"""A small figure of curves with all that stands around it, for the journeys of the plot."""

import math

BODY = (
    '{% include "components/plot.html" with id="curves" title="Characteristic curves" figure=figure '
    'table="numbers" limits=True filename="alder" only %}'
    '{% include "components/curve_list.html" with curves=curves for="curves" only %}'
    '{% table_scroll "Numbers" %}<table class="table" id="numbers" data-plot="curves"><tbody>'
    '{% for curve in curves %}<tr data-curve="{{ curve.key }}"><th scope="row"><a href="#x">{{ curve.label }}'
    "</a></th></tr>{% endfor %}</tbody></table>{% endtable_scroll %}"
    '<form method="post" action="/theme/" data-module="theme"><button name="theme" value="dark">Dark</button>'
    '<button name="theme" value="safelight">Safelight</button></form>'
)
CURVES = [
    {"key": "reference", "label": "House reference: Alder 100", "ink": "reference"},
    {"key": "s0", "label": "Birchwater 50", "ink": 0},
    {"key": "s1", "label": "Candlewick 200", "ink": 1},
]


def line(role, ink, key, name, offset, low=-3.0):
    x = [low + 0.04 * i for i in range(100)]
    y = [0.2 + offset + 2.2 / (1 + math.exp(-1.6 * (at + 1.2))) for at in x]
    return {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": x,
        "y": y,
        "meta": {"role": role, "ink": ink, "key": key},
    }


def figure():
    reference = line("reference", "reference", "reference", "Alder 100", 0.0)
    band = {
        "type": "scatter",
        "mode": "lines",
        "x": reference["x"] + reference["x"][::-1],
        "y": [y + 0.05 for y in reference["y"]] + [y - 0.05 for y in reference["y"]][::-1],
        "fill": "toself",
        "showlegend": False,
        "meta": {"role": "band", "ink": "reference", "key": "reference"},
    }
    construction = {
        "type": "scatter",
        "mode": "lines",
        "x": [-2, -2],
        "y": [0, 1],
        "showlegend": False,
        "meta": {"role": "construction"},
    }
    stocks = [
        line("stock", 0, "s0", "Birchwater 50", 0.1),
        line("stock", 1, "s1", "Candlewick 200", 0.3, low=-2.0),
    ]
    note = {"text": "Birchwater 50", "x": 0.9, "y": 2.4, "showarrow": False, "name": "s0"}
    layout = {
        "xaxis": {"title": {"text": "log exposure (log₁₀ lux·s)<br><sub>small print</sub>"}},
        "yaxis": {"title": {"text": "gross density"}},
        "annotations": [note],
    }
    meta = {"description": "Three characteristic curves.", "value_unit": "D"}
    return {"data": [band, construction, reference, *stocks], "layout": layout, "meta": meta}
