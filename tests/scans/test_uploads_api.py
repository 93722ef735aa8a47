"""The upload protocol as a script speaks it, held against the published text of tus 1.0.0.

Source: Resumable Uploads Protocol 1.0.0, core and the extensions creation, termination, checksum and
expiration (tus.io/protocols/resumable-upload); clause names beside the checks.
"""

import hashlib
from base64 import b64encode

import pytest
from django.test import Client

from labsite.accounts.services import issue_token
from labsite.common.errors import WrongState
from labsite.jobs.runner import run_waiting_jobs
from scans.imaging.decode_checks import DEFAULT_LIMITS
from scans.models import Scan, Upload
from scans.services import uploads
from scans.services.files import locked_part
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.factories.scripts import Script, check_answer, operations
from tests.imaging.picture_files import texture, write_tiff

pytestmark = pytest.mark.django_db
START = "/api/v1/uploads/"
BYTES = "application/offset+octet-stream"
TUS = {"Tus-Resumable": "1.0.0"}


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "files"


@pytest.fixture
def content(tmp_path):
    return write_tiff(tmp_path / "scan.tif", texture()).read_bytes()


class Tus:
    """A client of the protocol with a token."""

    def __init__(self, user, *, is_read_only=False):
        secret = issue_token(actor=user, name="tus", is_read_only=is_read_only).secret
        self.client = Client(raise_request_exception=False, headers={"Authorization": f"Token {secret}"})

    def ask(self, method, address, body=b"", kind=BYTES, **headers):
        """Send a request; its answer, checked against the OpenAPI document."""
        address = address.removeprefix("http://testserver")
        how = {"data": body, "content_type": kind} if method == "patch" else {}
        answer = getattr(self.client, method)(address, headers=TUS | headers, **how)
        if method not in ("head", "options"):
            check_answer(method, address, answer)
        return answer

    def begin(self, length, **told):
        """Create an upload; its address."""
        told = {"filename": "strip 1.tif"} | told
        pairs = ",".join(f"{name} {b64encode(str(value).encode()).decode()}" for name, value in told.items())
        answer = self.ask("post", START, **{"Upload-Length": str(length), "Upload-Metadata": pairs})
        assert answer.status_code == 201, answer.content
        return answer["Location"]

    def send(self, address, body, offset, **headers):
        """Send bytes."""
        return self.ask("patch", address, body, **{"Upload-Offset": str(offset)} | headers)


@pytest.fixture
def tus(owner):
    return Tus(owner)


def test_created_sent_in_pieces_and_asked_how_far(tus, owner, content):
    address = tus.begin(len(content))
    answer = tus.ask("head", address)
    assert (answer.status_code, answer["Upload-Offset"]) == (200, "0")  # Core, HEAD
    assert answer["Upload-Length"] == str(len(content))
    assert "no-store" in answer["Cache-Control"]
    assert answer["Tus-Resumable"] == "1.0.0"
    assert answer["Upload-Expires"].endswith(" GMT")  # Expiration, RFC 9110 date
    answer = tus.send(address, content[:7000], 0)
    assert (answer.status_code, answer["Upload-Offset"]) == (204, "7000")  # Core, PATCH
    assert tus.send(address, content[7000:], 7000)["Upload-Offset"] == str(len(content))
    assert tus.ask("head", address)["Upload-Offset"] == str(len(content))
    told = tus.ask("get", address).json()
    scan = Scan.objects.get()
    assert (told["stage"], told["scan_id"], told["is_repeat"]) == ("checking", scan.pk, False)
    run_waiting_jobs()
    told = tus.ask("get", address).json()
    assert told["stage"] == "measurable"
    assert told["words"] == "TIFF, 16 bits, grey, 130 × 90 pixels, 2400 ppi."
    assert scan.file.digest == hashlib.sha256(content).hexdigest()


def test_what_is_supported_is_told(tus):
    answer = tus.ask("options", START)  # Core, OPTIONS
    assert answer.status_code == 204
    assert answer["Tus-Version"] == "1.0.0"
    assert set(answer["Tus-Extension"].split(",")) == {"creation", "termination", "checksum", "expiration"}
    assert answer["Tus-Max-Size"] == str(DEFAULT_LIMITS.file_bytes)
    assert answer["Tus-Checksum-Algorithm"] == "sha256"


def test_another_version_is_refused_and_ours_named(tus, content):
    address = tus.begin(len(content))
    answer = tus.send(address, content, 0, **{"Tus-Resumable": "0.2.2"})
    assert (answer.status_code, answer["Tus-Version"]) == (412, "1.0.0")  # Core, Tus-Resumable
    assert Upload.objects.get().received_bytes == 0
    assert tus.ask("head", address, **{"Tus-Resumable": "2.0.0"}).status_code == 412


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 400),
        ({"Upload-Length": "x"}, 400),
        ({"Upload-Length": "-1"}, 400),
        ({"Upload-Length": "9" * 30}, 400),
        ({"Upload-Length": "0"}, 400),
        ({"Upload-Length": str(DEFAULT_LIMITS.file_bytes + 1)}, 413),  # Creation: 413 over Tus-Max-Size
        ({"Upload-Length": "9", "Upload-Metadata": ""}, 400),
        ({"Upload-Length": "9", "Upload-Metadata": "filename !!!"}, 400),
        ({"Upload-Length": "9", "Upload-Metadata": "filename YQ==,roll_id YQ=="}, 400),
        ({"Upload-Length": "9", "Upload-Metadata": "filename YQ==,shows YQ=="}, 400),
    ],
)
def test_what_could_never_be_stored_is_not_begun(tus, headers, status):
    answer = tus.ask("post", START, **{"Upload-Metadata": "filename YS50aWY="} | headers)
    assert answer.status_code == status, answer.content
    assert answer.json()["message"]
    assert not Upload.objects.exists()


def test_bytes_from_elsewhere_of_another_kind_or_too_many_are_refused(tus, content):
    address = tus.begin(len(content))
    assert tus.send(address, content[:500], 0).status_code == 204
    assert tus.send(address, content, 0).status_code == 409  # Core, PATCH: other offset
    assert tus.ask("patch", address, content, kind="application/json").status_code == 415
    assert tus.ask("patch", address, content).status_code == 400, "without an offset"
    assert tus.send(address, content, 500).status_code == 413
    assert tus.ask("head", address)["Upload-Offset"] == "500"


def test_a_checksum_that_does_not_match_has_the_bytes_forgotten(tus, content):
    address = tus.begin(len(content))

    def checksum(body, algorithm="sha256"):
        return {"Upload-Checksum": f"{algorithm} {b64encode(hashlib.sha256(body).digest()).decode()}"}

    assert tus.send(address, content[:500], 0, **checksum(b"other")).status_code == 460  # Checksum
    assert tus.ask("head", address)["Upload-Offset"] == "0"
    assert tus.send(address, content[:500], 0, **checksum(content, "crc32")).status_code == 400
    assert tus.send(address, content[:500], 0, **checksum(content[:500])).status_code == 204


def test_a_cancelled_upload_is_gone(tus, content):
    address = tus.begin(len(content))
    tus.send(address, content[:500], 0)
    assert tus.ask("delete", address).status_code == 204  # Termination
    assert tus.ask("head", address).status_code == 404
    assert tus.send(address, content[500:], 500).status_code == 404
    whole = tus.begin(len(content))
    tus.send(whole, content, 0)
    assert tus.ask("delete", whole).status_code == 409


def test_one_sender_at_a_time(tus, content):
    address = tus.begin(len(content))
    tus.send(address, content[:500], 0)
    with locked_part(Upload.objects.get().part_path):
        assert tus.send(address, content[500:], 500).status_code == 423
        assert tus.ask("delete", address).status_code == 423
        assert tus.ask("head", address)["Upload-Offset"] == "500"


def test_a_disk_without_room_is_told_as_such(tus, monkeypatch):
    monkeypatch.setattr(uploads, "require_room", no_room)
    answer = tus.ask("post", START, **{"Upload-Length": "9", "Upload-Metadata": "filename YS50aWY="})
    assert (answer.status_code, answer.json()["code"]) == (507, "no_room")


def no_room(**how):
    raise WrongState("No room.", code="no_room")


def test_another_member_learns_nothing_and_a_reading_token_sends_nothing(tus, owner, labmate, content):
    address = tus.begin(len(content))
    mate = Tus(labmate)
    assert mate.ask("head", address).status_code == 404
    assert mate.send(address, content, 0).status_code == 404
    assert mate.ask("delete", address).status_code == 404
    reader = Tus(owner, is_read_only=True)
    assert reader.send(address, content, 0).status_code == 403
    assert reader.ask("head", address).status_code == 200


def test_a_page_sends_with_its_session_and_only_with_its_csrf_token(owner, content):
    page = Client(enforce_csrf_checks=True)
    page.force_login(owner)
    headers = TUS | {"Upload-Length": str(len(content)), "Upload-Metadata": "filename YS50aWY="}
    assert page.post(START, b"", BYTES, headers=headers).status_code == 403
    token = "a" * 32
    page.cookies["csrftoken"] = token
    answer = page.post(START, b"", BYTES, headers=headers | {"X-CSRFToken": token})
    assert answer.status_code == 201, answer.content
    bytes_headers = TUS | {"Upload-Offset": "0"}
    address = answer["Location"]
    assert page.patch(address, content, BYTES, headers=bytes_headers).status_code == 403
    sent = page.patch(address, content, BYTES, headers=bytes_headers | {"X-CSRFToken": token})
    assert sent.status_code == 204


def test_the_body_is_read_as_it_comes_and_never_as_a_whole(tus, monkeypatch):
    """Ten megabytes through the view: what is asked of the request at once stays small."""
    asked = []

    def receive(*, stream, length, **how):
        while piece := stream.read(1024 * 1024):
            asked.append(len(piece))
        return Upload.objects.get()

    monkeypatch.setattr("scans.api.uploads.receive_bytes", receive)
    monkeypatch.setattr("django.http.HttpRequest.body", property(lambda request: pytest.fail("read whole")))
    address = tus.begin(10 * 2**20)
    assert tus.send(address, bytes(10 * 2**20), 0).status_code == 204
    assert (sum(asked), max(asked)) == (10 * 2**20, 2**20)


def test_the_protocol_is_in_the_document():
    by_name = {operation["operationId"]: operation for _, _, operation in operations()}
    assert BYTES in by_name["uploads_partial_update"]["requestBody"]["content"]
    headers = {each["name"] for each in by_name["uploads_create"]["parameters"]}
    assert headers == {"Upload-Length", "Upload-Metadata"}


# --- Scans for scripts


def test_scans_are_listed_described_and_discarded_by_scripts(owner, labmate, admin, content):
    roll = make_roll(owner, make_batch(owner), make_standards(admin))
    tus, script = Tus(owner), Script(owner)
    tus.send(tus.begin(len(content), roll_id=roll.pk), content, 0)
    run_waiting_jobs()
    (listed,) = script.get("scans/", "shows=unknown&is_mine=true")["results"]
    assert (listed["roll"]["code"], listed["shows"]) == (roll.code, "")
    one = f"scans/{listed['id']}/"
    refusal = script.refused("patch", one, {"shows": "tablet"}, status=400)
    assert {problem["field"] for problem in refusal["problems"]} == {"tablet_id", "scanner_id"}
    told = script.does("patch", one, {"shows": "strip", "settings": {"holder": "glass"}})
    assert (told["strip_id"], told["settings"]) == (roll.strips.get().pk, {"holder": "glass"})
    assert script.does("patch", one, {"notes": "Clean."})["settings"] == {"holder": "glass"}
    mate = Script(labmate)
    assert mate.get(one)["notes"] == "Clean."
    mate.refused("patch", one, {"notes": "x"}, status=403)
    mate.refused("post", f"{one}discard/", {}, status=403)
    assert script.get("scans/", "shows=strip&state=measurable")["count"] == 1
    assert script.get("scans/", f"roll_id={roll.pk}&member_id={labmate.pk}")["count"] == 0
    script.does("post", f"{one}discard/", {"reason": "blurred"}, status=204)
    script.refused("get", one, status=404)
    assert script.get("scans/")["count"] == 0
