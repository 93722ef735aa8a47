"""The main job in production: the image's server, the compose file's worker, PostgreSQL and Redis."""

from base64 import b64encode

import pytest

from tests.factories.main_job import MainJob
from tests.imaging.picture_files import texture, write_tiff
from tests.services.drill_lab import wait_until
from tests.services.production_lab import ProductionLab, RemoteScript

pytestmark = pytest.mark.services

LIMIT_S = 60
MEMBERS = """
from labsite.accounts.models import User
from labsite.accounts.services import issue_token
for name, role in (("bea", "member"), ("ada", "admin")):
    told = {"display_name": name.title(), "initials": name[0].upper(), "role": role}
    user = User.objects.create_user(name, "wedge-and-tank", **told)
    print(issue_token(actor=user, name="script", is_read_only=False).secret)
"""


@pytest.fixture(scope="module")
def lab(private_postgres, private_redis, tmp_path_factory):
    lab = ProductionLab(private_postgres, private_redis, tmp_path_factory.mktemp("production-job"))
    try:
        lab.manage("prepare")
        lab.serve()
        lab.work()
        yield lab
    finally:
        lab.close()


@pytest.fixture(scope="module")
def scripts(lab):
    """A member's and an admin's."""
    return [RemoteScript(lab, token) for token in lab.do(MEMBERS).split()]


def finish_jobs(script):
    """Wait until the worker has done what there was to do."""

    def is_idle():
        return not any(script.get("jobs/", f"state={state}")["results"] for state in ("queued", "running"))

    wait_until(is_idle, LIMIT_S, "the worker does its jobs")


def test_two_stocks_from_the_standards_to_their_difference(lab, scripts):
    member, warden = scripts
    MainJob(member, warden, finish_jobs=lambda: finish_jobs(member)).run()
    kinds = {job["kind"]: job["state"] for job in member.get("jobs/")["results"]}
    assert set(kinds.values()) == {"done"}
    assert len(kinds) > 1, "rolls are fitted and stocks are pooled"


def test_a_scan_is_sent_and_looked_at_by_the_worker(lab, scripts, tmp_path):
    member, _ = scripts
    content = write_tiff(tmp_path / "scan.tif", texture()).read_bytes()
    tus = member.headers | {"Tus-Resumable": "1.0.0"}
    name = b64encode(b"strip 1.tif").decode()
    begun = lab.ask(
        "/api/v1/uploads/",
        method="POST",
        **tus,
        **{"Upload-Length": str(len(content)), "Upload-Metadata": f"filename {name}"},
    )
    assert begun.status_code == 201, begun.text
    address = begun["Location"].removeprefix("https://lab.example.org")
    kind = {"Content-Type": "application/offset+octet-stream", "Upload-Offset": "0"}
    sent = lab.ask(address, method="PATCH", body=content, **tus, **kind)
    assert (sent.status_code, sent["Upload-Offset"]) == (204, str(len(content)))
    finish_jobs(member)
    told = member.get(address)
    assert (told["stage"], told["words"]) == (
        "measurable",
        "TIFF, 16 bits, grey, 130 × 90 pixels, 2400 ppi.",
    )


def test_every_request_is_in_the_log_of_the_pages(lab, scripts):
    scripts[0].get("me/")
    line = '"GET /api/v1/me/ HTTP/1.1" 200'
    wait_until(lambda: line in lab.log("pages"), LIMIT_S, "the line is written")
