"""Templates keep to the content policy: no inline script, style or handler; components get what they name."""

import re

import pytest

from tests.architecture.sources import short, templates

INLINE = {
    "a script without src": re.compile(r"<script(?![^>]*\b(src=|type=\"application/json\"))", re.I),
    "a style element": re.compile(r"<style\b", re.I),
    "a style attribute": re.compile(r"<[a-z][^>]*\sstyle=", re.I),
    "an event handler": re.compile(r"<[a-z][^>]*\son[a-z]+=", re.I),
    "a javascript: address": re.compile(r"javascript:", re.I),
    "an address elsewhere": re.compile(r"<(script|link|img)\b[^>]*(src|href)=\"(https?:)?//", re.I),
}
COMPONENT = re.compile(r"{%-?\s*include\s+[\"']components/[^%]*%}")


@pytest.mark.parametrize("path", templates(), ids=short)
def test_template_has_nothing_inline(path):
    text = re.sub(
        r"{#.*?#}|{% comment %}.*?{% endcomment %}", "", path.read_text(encoding="utf-8"), flags=re.S
    )
    assert [what for what, pattern in INLINE.items() if pattern.search(text)] == []


@pytest.mark.parametrize("path", templates(), ids=short)
def test_components_are_included_with_only(path):
    tags = COMPONENT.findall(path.read_text(encoding="utf-8"))
    assert [tag for tag in tags if not re.search(r"\bonly\s*-?%}$", tag)] == []


def test_the_patterns_find_what_they_are_for():
    planted = {
        "a script without src": "<script>alert(1)</script>",
        "a style element": "<style>p{}</style>",
        "a style attribute": '<p class="x" style="color: red">',
        "an event handler": '<a href="/" onclick="go()">',
        "a javascript: address": '<a href="javascript:go()">',
        "an address elsewhere": '<img src="//other.example/x.png">',
    }
    for what, text in planted.items():
        assert INLINE[what].search(text), what
