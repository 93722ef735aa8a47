"""The site with a page more, on which the area editor stands in a form that shows what was sent."""

from django.http import HttpResponse
from django.template import engines
from django.urls import path

from labsite.urls import urlpatterns as site
from scans.models import Scan
from scans.queries.tiles import editor_source

PAGE = """{% extends "base.html" %}{% load static %}
{% block title %}Areas{% endblock %}{% block heading %}Areas{% endblock %}
{% block styles %}<link rel="stylesheet" href="{% static 'scans/css/picture.css' %}">{% endblock %}
{% block scripts %}{% include "scans/viewing/_viewer_assets.html" only %}{% endblock %}
{% block content %}
<pre id="sent-outline">{{ sent.outline }}</pre><pre id="sent-darkens">{{ sent.darkens }}</pre>
<form method="post">{% csrf_token %}
  {% include "scans/viewing/_area_editor.html" with source=source only %}
  <div class="form-actions"><button class="button button-primary">Measure here</button></div>
</form>{% endblock %}"""


def editor_page(request, scan_id):
    """Show the editor of a scan, and what it sent."""
    scan = Scan.objects.get(pk=scan_id)
    placement = scan.placements.order_by("-number").first()
    measured = [
        {"label": "step 3", "text": "0.42", "flags": ["dust left out"]},
        {"label": "step 4", "text": "0.57", "flags": []},
    ]
    source = editor_source(scan, placement, measured=measured)
    page = engines["django"].from_string(PAGE)
    return HttpResponse(page.render({"source": source, "sent": request.POST}, request))


urlpatterns = [path("area-editor/<int:scan_id>/", editor_page), *site]
