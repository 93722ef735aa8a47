"""Parts of a page that need a little more than an include: state badges, callouts, scrolling tables."""

from django import template
from django.utils.text import slugify

register = template.Library()

# state -> (words, shape, tone). Shape and words say it; tone only underlines.
BADGES = {
    "draft": ("draft", "hollow", "quiet"),
    "submitted": ("submitted", "half", "plain"),
    "returned": ("returned", "back", "plain"),
    "accepted": ("accepted", "tick", "strong"),
    "void": ("void", "cross", "alarm"),
    "withdrawn": ("withdrawn", "minus", "quiet"),
    "in_control": ("in control", "square-tick", "plain"),
    "out_of_control": ("out of control", "triangle", "alarm"),
    "unproven": ("unproven", "question", "quiet"),
    "queued": ("queued", "dots", "quiet"),
    "running": ("running", "turning", "plain"),
    "done": ("done", "tick", "plain"),
    "failed": ("failed", "octagon", "alarm"),
    "cancelled": ("cancelled", "minus", "quiet"),
    "in_force": ("in force", "square-tick", "strong"),
    "superseded": ("superseded", "back", "quiet"),
    "reference": ("house reference", "diamond", "strong"),
    "active": ("active", "tick", "plain"),
    "retired": ("retired", "minus", "quiet"),
    "open": ("open", "hollow", "plain"),
    "used": ("used", "tick", "quiet"),
    "expired": ("expired", "question", "quiet"),
    "revoked": ("revoked", "cross", "quiet"),
    "in_order": ("in order", "square-tick", "plain"),
    "due": ("due", "half", "plain"),
    "overdue": ("overdue", "triangle", "alarm"),
    "off": ("off", "octagon", "alarm"),
    "drifting": ("drifting", "triangle", "alarm"),
    "no_check": ("no check", "question", "quiet"),
    "not_planned": ("not checked regularly", "minus", "quiet"),
    "unchecked": ("being checked", "turning", "quiet"),
    "measurable": ("fit for measuring", "tick", "plain"),
    "view_only": ("for looking only", "minus", "quiet"),
    "refused": ("could not be read", "octagon", "alarm"),
}
CALLOUTS = {"note": "Note", "warning": "Warning", "caution": "Caution"}


@register.inclusion_tag("components/badge.html")
def badge(state, words=""):
    """The state of a thing as shape and words; an unknown state shows its own name."""
    key = str(state).strip().lower().replace(" ", "_").replace("-", "_")
    known, shape, tone = BADGES.get(key, (str(state).replace("_", " "), "hollow", "plain"))
    return {"words": words or known, "shape": shape, "tone": tone}


def _render(context, name, values):
    return context.template.engine.get_template(name).render(context.new(values))


@register.simple_block_tag(takes_context=True)
def callout(context, content, kind="note", title=""):
    """A note, warning or caution around the given content."""
    if kind not in CALLOUTS:
        raise template.TemplateSyntaxError(f"callout: kind must be one of {', '.join(CALLOUTS)}.")
    values = {"kind": kind, "title": title or CALLOUTS[kind], "content": content}
    return _render(context, "components/callout.html", values)


@register.simple_block_tag(takes_context=True)
def table_scroll(context, content, label):
    """A region around a table that scrolls by itself and can be reached by keyboard."""
    return _render(context, "components/table_scroll.html", {"label": label, "content": content})


@register.simple_block_tag(takes_context=True)
def panel(context, content, title="", level=2, slug=""):
    """A sheet on the grey ground, with a heading of its own where a title is given."""
    values = {"title": title, "level": level, "slug": slug or slugify(title), "content": content}
    return _render(context, "components/panel.html", values)
