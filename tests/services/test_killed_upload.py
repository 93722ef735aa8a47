"""An upload outlives the process that receives it: killed at any byte, it goes on and comes out the same.

Conditions: the real ``serve`` command on SQLite, pieces of 1 MB over a plain socket, SIGKILL in the middle
of a piece's body or at any moment of its storing, the last piece's completing included.
"""

import base64
import hashlib
import http.client
import random
import subprocess
import sys
import time

import pytest

from tests.services.drill_lab import ROOT, wait_until
from tests.services.embedded_lab import EmbeddedLab

PIECE = 1024 * 1024
SIZE = 6 * PIECE + 12_345
START_LIMIT_S = 60
BYTES = {"Content-Type": "application/offset+octet-stream"}
MAKE_TOKEN = """
import django
django.setup()
from labsite.accounts.models import User
from labsite.accounts.services import issue_token
user = User.objects.create_user("owner", "grey-card-18", display_name="Ola Ownfield", initials="OO")
print(issue_token(actor=user, name="drill", is_read_only=False).secret)
"""


class UploadLab(EmbeddedLab):
    """A whole lab, and a script that uploads to it."""

    def __init__(self, folder):
        super().__init__(folder, settings="labsite.settings")
        made = subprocess.run(
            [sys.executable, "-c", MAKE_TOKEN],
            cwd=ROOT,
            env=self.environment,
            check=True,
            timeout=60,
            capture_output=True,
            text=True,
        )
        self.headers = {"Authorization": f"Token {made.stdout.strip()}", "Tus-Resumable": "1.0.0"}

    def serve(self):
        """Start the site and wait until it answers."""
        super().serve()
        wait_until(self._answers, START_LIMIT_S, "the site answers")

    def _answers(self):
        assert self.server.poll() is None, (self.folder / "log").read_text()[-4000:]
        try:
            return self.ask("GET", "/healthz/").status == 200
        except OSError:
            return False

    def ask(self, method, path, body=None, **headers):
        """One request; its answer, read."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=START_LIMIT_S)
        try:
            connection.request(method, path, body=body, headers=self.headers | headers)
            answer = connection.getresponse()
            answer.read()
            return answer
        finally:
            connection.close()

    def begin(self, size):
        """Begin an upload; its path."""
        told = f"filename {base64.b64encode(b'strip.tif').decode()}"
        answer = self.ask("POST", "/api/v1/uploads/", **{"Upload-Length": str(size), "Upload-Metadata": told})
        assert answer.status == 201
        return "/" + answer.headers["Location"].split("/", 3)[3]

    def counts(self):
        """How many scans there are, and how many checks of them."""
        checks = "SELECT count(*) FROM jobs_job WHERE kind = 'check_file'"
        return [self.rows(query)[0][0] for query in ("SELECT count(*) FROM scans_scan", checks)]

    def offset(self, path):
        """How much is there."""
        return int(self.ask("HEAD", path).headers["Upload-Offset"])

    def send(self, path, content, offset, piece=PIECE):
        """Send a piece and wait for the answer."""
        body = content[offset : offset + piece]
        answer = self.ask("PATCH", path, body, **BYTES | {"Upload-Offset": str(offset)})
        assert answer.status == 204, answer.status
        return offset + len(body)

    def send_and_kill(self, path, content, offset, sent, pause_s):
        """Send so many bytes of a piece's body, or all of it and wait a moment; then kill the site."""
        body = content[offset : offset + PIECE]
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=START_LIMIT_S)
        connection.putrequest("PATCH", path)
        for name, value in {**self.headers, **BYTES, "Upload-Offset": str(offset)}.items():
            connection.putheader(name, value)
        connection.putheader("Content-Length", str(len(body)))
        connection.endheaders()
        connection.send(body[:sent])
        time.sleep(pause_s)
        self.kill()
        connection.close()


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """A lab; whatever still serves it is killed afterwards."""
    lab = UploadLab(tmp_path_factory.mktemp("upload-lab"))
    yield lab
    if lab.server is not None and lab.server.poll() is None:
        lab.kill()


@pytest.fixture
def site(lab):
    """The lab, served."""
    if lab.server is None or lab.server.poll() is not None:
        lab.serve()
    return lab


@pytest.mark.parametrize("kills", [4, pytest.param(30, marks=pytest.mark.full)])
def test_a_killed_site_goes_on_with_the_upload_and_every_byte_is_right(site, kills):
    """Each round is one upload, killed once at a random byte; its SHA-256 is that of what was sent."""
    chance = random.Random(8)
    lost = []
    before = site.counts()
    for number in range(kills):
        content = chance.randbytes(SIZE)
        path = site.begin(SIZE)
        cut = chance.randrange(SIZE)
        offset = 0
        while offset + PIECE <= cut:
            offset = site.send(path, content, offset)
        if number % 2:  # all of the piece has come: killed while it is stored, or just after
            site.send_and_kill(path, content, offset, PIECE, chance.uniform(0, 0.03))
        else:
            site.send_and_kill(path, content, offset, cut - offset, chance.uniform(0, 0.03))
        site.serve()
        there = site.offset(path)
        assert offset <= there <= min(offset + PIECE, SIZE), "nothing that was acknowledged is lost"
        lost.append(max(0, cut - there))
        while there < SIZE:
            there = site.send(path, content, there)
        digest = hashlib.sha256(content).hexdigest()
        assert site.rows("SELECT digest FROM scans_storedfile ORDER BY id DESC LIMIT 1") == [(digest,)]
        stored = site.folder / "files" / "scans" / digest[:2] / digest
        assert hashlib.sha256(stored.read_bytes()).hexdigest() == digest
    assert max(lost) <= PIECE
    assert site.counts() == [count + kills for count in before]
    assert site.rows("SELECT count(*) FROM scans_upload WHERE completed_at IS NULL") == [(0,)]
    files = [each for each in (site.folder / "files").rglob("*") if each.is_file()]
    assert len([each for each in files if "scans" in each.parts]) == site.counts()[0]
    assert not [each for each in files if each.suffix == ".part"], "strays"
    print(f"{kills} kills; at most {max(lost)} bytes had to be sent again")


def test_completing_that_was_cut_off_is_done_by_the_next_question(site):
    """The last byte has come; the site is killed at any moment of taking the file over."""
    chance = random.Random(9)
    before = site.counts()
    for _ in range(3):
        content = chance.randbytes(PIECE)
        path = site.begin(PIECE)
        site.send_and_kill(path, content, 0, PIECE, chance.uniform(0, 0.05))
        site.serve()
        there = site.offset(path)
        if there < PIECE:
            site.send(path, content, there)
        assert site.offset(path) == PIECE
        digest = hashlib.sha256(content).hexdigest()
        assert site.rows("SELECT count(*) FROM scans_storedfile WHERE digest = ?", digest) == [(1,)]
    assert site.counts() == [count + 3 for count in before]


@pytest.mark.parametrize("piece", [4 * PIECE, 130_000_000], ids=["pieces", "at once"])
def test_a_large_file_takes_no_memory_in_proportion(site, piece):
    """130 MB: the serving process grows by far less than the file, in pieces and in one body."""
    if site.server.poll() is None:
        site.kill()
    site.serve()
    before = peak_kb(site.server.pid)
    content = random.Random(10).randbytes(130_000_000)
    path, offset = site.begin(len(content)), 0
    while offset < len(content):
        offset = site.send(path, content, offset, piece)
    grown_mb = (peak_kb(site.server.pid) - before) / 1024
    print(f"peak grew by {grown_mb:.0f} MB of 130 MB")
    # Seen: 5 and 10 MB on a busy machine; four times as much is still far from the file.
    assert grown_mb < 40


def peak_kb(pid) -> int:
    """The most memory that a process ever had in use."""
    with open(f"/proc/{pid}/status", encoding="ascii") as status:
        return next(int(line.split()[1]) for line in status if line.startswith("VmHWM"))
