"""Fixtures that every test may use: the cast, private servers, a real browser."""

import gc
import os
from itertools import groupby

import pytest

from labsite import env
from tests.private_servers import NotInstalled, PrivatePostgres, PrivateRedis, find_program

#: The fixture of a lab that a module's tests share.
SHARED = "shared_lab"


def pytest_collection_modifyitems(config, items):
    """Begin with what takes longest; on another database than the ordinary one keep only what touches it."""
    # A drill, or a second run on PostgreSQL, that one process began last would keep the others waiting.
    items.sort(key=lambda item: 0 if item.get_closest_marker("services") else 1)
    # Within a module, those that must not meet the lab that the others share.
    modules = groupby(list(items), key=lambda item: item.path)
    items[:] = [
        item for _, its in modules for item in sorted(its, key=lambda item: SHARED in item.fixturenames)
    ]
    if "LABSITE_TEST_DATABASE_URL" not in os.environ:
        return
    touching, others = [], []
    for item in items:
        touches = {"db", "transactional_db"} & {*item.fixturenames} or item.get_closest_marker("django_db")
        is_wanted = touches and not item.get_closest_marker("one_database")
        (touching if is_wanted else others).append(item)
    config.hook.pytest_deselected(items=others)
    items[:] = touching


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Share the tests out among processes as ``tests/sharing.py`` says."""
    if config.getvalue("dist") == "loadgroup":
        from tests.sharing import Sharing

        return Sharing(config, log)


def pytest_collection_finish(session):
    """Let the collector of garbage pass over what was imported: looking through it takes a tenth of a run."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(5_000, 10, 10)


# --- The cast: one name for each way to stand to a piece of work


@pytest.fixture
def owner(db):
    """The member whose work it is."""
    return _person("owner", "Ola Ownfield", "OO")


@pytest.fixture
def labmate(db):
    """Another member of the same lab."""
    return _person("labmate", "Lin Matelle", "LM")


@pytest.fixture
def admin(db):
    """An admin of the lab."""
    return _person("admin", "Ada Minster", "AM", role="admin")


@pytest.fixture
def stranger(db):
    """Someone whose account was retired."""
    return _person("stranger", "Stan Ranger", "SR", is_active=False)


@pytest.fixture
def visitor(db):
    """Someone without an account."""
    from django.contrib.auth.models import AnonymousUser

    return AnonymousUser()


@pytest.fixture
def client_for():
    """``client_for(user)``: a test client signed in as the user; a visitor's is not signed in."""
    from django.test import Client

    def make(user):
        client = Client()
        if user.pk is not None:
            client.force_login(user)
        return client

    return make


@pytest.fixture
def demo_lab(db, settings, tmp_path):
    """The demo lab without its scans, in a data folder of the test's own."""
    from tests.factories.kept_demo import load_demo_lab

    settings.DATA_DIR = tmp_path
    load_demo_lab()


def _person(username, display_name, initials, **fields):
    from labsite.accounts.models import User

    if there := User.objects.filter(username=username).first():  # of a lab that is shared
        return there
    names = {"display_name": display_name, "initials": initials}
    return User.objects.create_user(username, "grey-card-18", **names, **fields)


# --- Private servers


@pytest.fixture(scope="session")
def private_postgres():
    """A real PostgreSQL of this run's own."""
    yield from _private(PrivatePostgres)


@pytest.fixture(scope="session")
def private_redis():
    """A real Redis of this run's own."""
    yield from _private(PrivateRedis)


def _private(kind):
    try:
        server = kind()
    except NotInstalled as fault:
        _go_without(str(fault))
    try:
        server.start()
        yield server
    finally:
        server.close()


def _go_without(reason):
    """Skip, or fail where the run was told that every service must be there (CI)."""
    if env.flag("TEST_REQUIRE_SERVICES", False):
        pytest.fail(reason)
    pytest.skip(reason)


# --- Jobs as an embedded lab runs them


@pytest.fixture
def job_runner(transactional_db, tmp_path):
    """The runner thread of an embedded lab, for tests that wait for a job as a person would."""
    from labsite.jobs.runner import EmbeddedRunner

    runner = EmbeddedRunner(lock_path=tmp_path / "runner.lock")
    runner.start()
    yield runner
    runner.stop()


# --- A real browser


@pytest.fixture(scope="session")
def chromium():
    """Headless Chromium, driven by Playwright."""
    from playwright.sync_api import sync_playwright

    try:
        # The same engine without windows: the browser's own work is less than half.
        shell = "/usr/bin/chromium-headless-shell"
        program = find_program("chromium", shell, package="chromium-headless-shell fonts-liberation")
    except NotInstalled as fault:
        _go_without(str(fault))
    # Playwright's synchronous interface keeps an event loop in this thread, which Django takes for an
    # asynchronous caller of its database functions.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
    switches = ["--disable-dev-shm-usage", *(["--no-sandbox"] if os.getuid() == 0 else [])]
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=program, args=switches)
            yield browser
            browser.close()
    finally:
        del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture
def page_for(chromium, live_server, client_for):
    """``page_for(user, width=1280)``: a browser page signed in as the user, on the live site.

    Script errors and breaches of the content policy that any page reports fail the test.
    """
    contexts, faults = [], []

    def make(user, *, width=1280, height=900):
        context = chromium.new_context(base_url=live_server.url, viewport={"width": width, "height": height})
        contexts.append(context)
        if session := client_for(user).cookies.get("sessionid"):
            cookie = {"name": "sessionid", "value": session.value, "url": live_server.url}
            context.add_cookies([cookie])
        page = context.new_page()
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("console", lambda message: _is_fault(message) and faults.append(message.text))
        return page

    def _is_fault(message):
        # Chromium also reports each refused page, which a journey may well be about.
        return message.type == "error" and "status of 403" not in message.text

    yield make
    for context in contexts:
        context.close()
    assert not faults, "\n".join(faults)
