"""A site of components only, for browser tests of the scripts: no database, no server, the real policy.

Playwright answers every request itself: pages from Django's templates, static files from the sources.
"""

import mimetypes
from pathlib import Path
from urllib.parse import urlsplit

from django.contrib.staticfiles import finders
from django.template import Context, engines
from django.test import RequestFactory

from labsite.middleware import CONTENT_SECURITY_POLICY
from tests.architecture.sources import ROOT
from tests.journeys.looking import wait_until_mounted

ORIGIN = "https://components.example"
STATIC = ROOT / "labsite/static"

SHELL = """<!doctype html><html lang="en" data-theme="{{ theme|default:'light' }}"><head>
<title>Components</title>
{% load static components %}
<link rel="icon" href="{% static 'img/mark.svg' %}">
<link rel="stylesheet" href="{% static 'css/tokens.css' %}">
<link rel="stylesheet" href="{% static 'css/base.css' %}">
<link rel="stylesheet" href="{% static 'css/layout.css' %}">
<link rel="stylesheet" href="{% static 'css/forms.css' %}">
<link rel="stylesheet" href="{% static 'css/tables.css' %}">
<link rel="stylesheet" href="{% static 'css/components.css' %}">
<link rel="stylesheet" href="{% static 'css/plot.css' %}">
<link rel="stylesheet" href="{% static 'css/readings.css' %}">
<link rel="stylesheet" href="{% static 'css/print.css' %}" media="print">
{% if has_plots %}{% include "components/plotly_assets.html" only %}{% endif %}
<script type="module" src="{% static 'js/page.js' %}"></script>
</head><body><main class="page"><h1>Components</h1>BODY</main></body></html>"""


class ComponentSite:
    """Pages by path, and what was posted to them."""

    def __init__(self, chromium):
        self._chromium = chromium
        self._contexts = []
        self._scriptless = []
        self._sources = {}
        self.posted = []
        self.faults = []

    def put(self, path, body, **context):
        """Let ``path`` show a template's source inside the shell."""
        self.put_page(path, SHELL.replace("BODY", body), **context)

    def put_page(self, path, source, **context):
        """Let ``path`` show a whole page's source, such as one that extends base.html."""
        self._sources[path] = (source, context)

    def open(self, path, **options):
        """A browser page on ``path``, with all scripts mounted."""
        context = self._chromium.new_context(accept_downloads=True, **options)
        self._contexts.append(context)
        context.route("**/*", self._answer)
        page = context.new_page()
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.on("console", lambda message: message.type == "error" and self.faults.append(message.text))
        if options.get("java_script_enabled") is False:
            self._scriptless.append(page)
        self.go(page, path)
        return page

    def go(self, page, path):
        """Lead a page to another path."""
        page.goto(ORIGIN + path)
        if page not in self._scriptless:
            wait_until_mounted(page)

    def close(self):
        """Close every page; faults that any of them met fail the test."""
        for context in self._contexts:
            context.close()
        assert not self.faults, "\n".join(self.faults)

    def _answer(self, route):
        request = route.request
        path = urlsplit(request.url).path
        if path.startswith("/static/"):
            name = path.removeprefix("/static/")
            own = STATIC / name
            file = own if own.exists() else Path(finders.find(name))
            kind = mimetypes.guess_type(file.name)[0] or "application/octet-stream"
            route.fulfill(body=file.read_bytes(), content_type=kind.replace("application/java", "text/java"))
            return
        if request.method == "POST":
            self.posted.append(request.post_data)
        source, context = self._sources[path]
        django_request = RequestFactory().get(path + "?" + urlsplit(request.url).query)
        html = (
            engines["django"]
            .from_string(source)
            .template.render(Context({"request": django_request, **context}))
        )
        headers = {"Content-Security-Policy": CONTENT_SECURITY_POLICY}
        route.fulfill(body=html, content_type="text/html; charset=utf-8", headers=headers)
