"""Collected static files find each other under their hashed names, and nothing comes from elsewhere."""

import re

import pytest
from django.contrib.staticfiles import finders
from django.test import override_settings

from labsite.common.storage import StaticFiles
from tests.architecture.sources import ROOT

STATIC = ROOT / "labsite/static"
OWN_SCRIPTS = sorted((STATIC / "js").glob("*.js"))
OWN_STYLES = sorted((STATIC / "css").glob("*.css"))
IMPORT = re.compile(r"""(?:from|import)\s*\(?\s*["'](\.[^"']+)["']""")


@pytest.fixture(scope="module")
def collected(tmp_path_factory):
    """Folder with every static file of the site, collected as a serving command does it."""
    folder = tmp_path_factory.mktemp("static")
    with override_settings(STATIC_ROOT=str(folder)):
        storage = StaticFiles(location=str(folder))
        names = {}
        for finder in finders.get_finders():
            for name, source in finder.list([]):
                if name.startswith(("js/", "css/", "img/")):
                    names[name] = (source, name)
                    with source.open(name) as file:
                        storage._save(name, file)
        for name, _, outcome in storage.post_process(names):
            assert not isinstance(outcome, Exception), f"{name}: {outcome}"
    return folder


def test_every_import_leads_to_a_collected_file_by_its_hash(collected):
    hashed = [
        file
        for file in (collected / "js").glob("*.js")
        if re.fullmatch(r"[\w-]+\.[0-9a-f]{12}\.js", file.name)
    ]
    assert len(hashed) == len(OWN_SCRIPTS)
    for file in hashed:
        for target in IMPORT.findall(file.read_text(encoding="utf-8")):
            assert re.search(r"\.[0-9a-f]{12}\.js$", target), f"{file.name} imports {target} without its hash"
            assert (file.parent / target).is_file()


def test_page_script_knows_every_module_that_can_be_mounted():
    mountable = {
        file.stem for file in OWN_SCRIPTS if "export function mount" in file.read_text(encoding="utf-8")
    }
    mountable |= {
        file.stem for file in OWN_SCRIPTS if "export async function mount" in file.read_text("utf-8")
    }
    listed = set(
        re.findall(r'import\("\./([\w-]+)\.js"\)', (STATIC / "js/page.js").read_text(encoding="utf-8"))
    )
    assert listed == mountable


def test_templates_ask_for_modules_that_exist():
    known = {file.stem for file in OWN_SCRIPTS}
    for folder in ("labsite", "curves"):
        for template in (ROOT / folder).rglob("templates/**/*.html"):
            text = template.read_text(encoding="utf-8")
            # An element that names its own source may call its module as it likes.
            asked = set(re.findall(r'data-module="([\w-]+)"(?![^>]*data-module-src)', text))
            assert asked <= known, f"{template}: {asked - known}"


@pytest.mark.parametrize("file", [*OWN_SCRIPTS, *OWN_STYLES], ids=lambda file: file.name)
def test_nothing_is_loaded_from_elsewhere_or_run_from_text(file):
    text = file.read_text(encoding="utf-8")
    for what in (
        "http://",
        "https://",
        "@import",
        "eval(",
        "new Function",
        "innerHTML",
        "insertAdjacentHTML",
        "document.write",
    ):
        assert what not in text, what


@pytest.mark.parametrize("file", OWN_STYLES, ids=lambda file: file.name)
def test_styles_take_their_colours_from_the_tokens(file):
    if file.name == "tokens.css":
        return
    text = re.sub(r"/\*.*?\*/", "", file.read_text(encoding="utf-8"), flags=re.S)
    used = set(re.findall(r"var\((--[\w-]+)", text))
    tokens = set(re.findall(r"(--[\w-]+):", (STATIC / "css/tokens.css").read_text(encoding="utf-8")))
    own = set(re.findall(r"(--[\w-]+):", text))
    assert used - tokens - own == set()
