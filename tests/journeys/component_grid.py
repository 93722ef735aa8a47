"""The readings grid on a page of its own, and what a test asks of it."""

STEPS = 21
GRID = (
    '<form class="stack" method="post" action="/saved/" data-module="grid" data-direction="{{ direction }}" '
    'data-draft="roll-12" data-spread-limit="0.03" data-reading-sd="0.01">'
    '{% include "components/readings_grid.html" with rows=rows replicates=replicates is_absolute=True only %}'
    '<div class="form-actions"><button class="button button-primary">Save the readings</button>'
    '{% include "components/readings_add.html" only %}</div></form>'
)


def grid_rows(replicates=3, values=None, steps=STEPS):
    """Rows as a view makes them for the component."""
    values = values or {}
    names = ["unexposed", *(str(step) for step in range(1, steps + 1))]
    return [
        {
            "row": {"name": name, "tablet_density": 0.05, "log_exposure": -1.0},
            "cells": [
                {"name": cell, "value": values.get(cell, ""), "error": ""}
                for cell in (f"d-{name}-{replicate}" for replicate in range(1, replicates + 1))
            ],
        }
        for name in names
    ]


def open_grid(site, replicates=3, values=None, direction="rising", steps=STEPS, **options):
    """A browser page with a grid of that many steps and readings, as the server would send it."""
    rows = grid_rows(replicates, values, steps)
    site.put("/grid/", GRID, rows=rows, replicates=range(1, replicates + 1), direction=direction)
    site.put("/saved/", '<div data-module="clear-draft" data-draft="roll-12"></div>Saved.')
    return site.open("/grid/", **options)


def value(page, name):
    """What stands in the cell with this name."""
    return page.locator(f'[name="{name}"]').input_value()


def focused(page):
    """Name of the cell that has the focus."""
    return page.evaluate("document.activeElement.name")


def note(page, step):
    """What there is to look at in the row of a step."""
    return page.locator(f"#note-{step}").inner_text()


def paste(page, text):
    """What the browser does when text is pasted into the focused cell."""
    page.evaluate(
        """text => {
          const data = new DataTransfer();
          data.setData("text/plain", text);
          const event = new ClipboardEvent("paste", {clipboardData: data, bubbles: true, cancelable: true});
          document.activeElement.dispatchEvent(event);
        }""",
        text,
    )
