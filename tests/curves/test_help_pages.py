"""Help and safety: every page opens to everybody, and what they promise of files and commands holds."""

import html
import re
import sqlite3
import subprocess
import sys

import pytest
import yaml
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import get_commands
from django.urls import Resolver404, resolve, reverse

from curves.importers import parse_readings, read_table
from curves.pages.desk.guides import GUIDES
from labsite.accounts.services import issue_token
from tests.architecture.sources import ROOT
from tests.factories.rolls import make_batch, make_roll, make_run, make_standards

pytestmark = pytest.mark.django_db
SLUGS = [guide.slug for guide in GUIDES]


def commands(text: str) -> list[str]:
    """The lines that a page shows as typed."""
    blocks = re.findall(r"<pre[^>]*>(.*?)</pre>", text, re.DOTALL)
    return [html.unescape(line) for block in blocks for line in block.splitlines()]


@pytest.mark.parametrize("slug", SLUGS)
def test_each_page_opens_to_everybody_and_its_links_lead_somewhere(visitor, client_for, slug):
    answer = client_for(visitor).get(reverse("help_page", args=[slug]))
    assert answer.status_code == 200
    main = answer.text[answer.text.index("<main") : answer.text.index("</main>")]
    for address in set(re.findall(r'href="(/[^"#?]*)', main)):
        try:
            resolve(address)
        except Resolver404:
            pytest.fail(f"{address} leads nowhere")


def test_the_contents_list_every_page_and_an_unknown_one_is_not_found(visitor, client_for):
    client = client_for(visitor)
    text = client.get(reverse("help")).text
    assert all(reverse("help_page", args=[slug]) in text for slug in SLUGS)
    assert client.get("/help/no-such-page/").status_code == 404


def test_safety_defers_to_data_sheets_and_calls_no_screen_safe(visitor, client_for):
    text = client_for(visitor).get(reverse("safety")).text
    for words in ("safety data sheet", "local codes", "No screen is safe", "get medical help"):
        assert words in text
    amount = r"\d\s*(g|mg|kg|ml|l|%)\b"
    main = text[text.index("<main") : text.index("</main>")]
    assert not re.search(amount, re.sub(r"<[^>]+>", "", main)), "no amounts of anything"


def test_the_upload_example_is_a_file_that_a_strip_takes(owner, admin, visitor, client_for):
    data = client_for(visitor).get(reverse("help_upload_example")).content
    table = parse_readings(read_table(data), require="step")
    assert table.is_valid
    assert sum(row.is_unexposed for row in table.rows) == 3
    assert not re.search(r"log_exposure.*\d,-?\d", data.decode()), "no exposures, which a tablet knows"
    # The whole way through the page, on a tablet of 21 steps.
    roll = make_roll(owner, make_batch(owner), make_standards(admin))
    roll.run = make_run(owner, roll.process_revision)
    roll.save()
    client = client_for(owner)
    address = reverse("roll_import", args=[roll.pk, 1])
    answer = client.post(address, {"file": SimpleUploadedFile("example.csv", data)})
    assert answer.status_code == 302, answer.text


def test_the_fit_example_is_a_file_that_fit_readings_takes(visitor, client_for, tmp_path):
    path = tmp_path / "example.csv"
    path.write_bytes(client_for(visitor).get(reverse("help_fit_example")).content)
    done = subprocess.run(
        [
            sys.executable,
            "manage.py",
            "fit_readings",
            str(path),
            "--exposure",
            "absolute",
            "--format",
            "json",
        ],
        cwd=ROOT,
        env={
            "LABSITE_NO_BOOTSTRAP": "1",
            "LABSITE_DATA_DIR": str(tmp_path / "data"),
            "PATH": "/usr/bin:/bin",
        },
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert '"iso_speed": {"value": ' in done.stdout


def test_the_live_copy_is_whole_while_the_lab_writes(visitor, client_for, tmp_path):
    text = client_for(visitor).get(reverse("help_page", args=["backup"])).text
    command = next(line for line in commands(text) if "VACUUM" in line)
    (tmp_path / ".data").mkdir()
    live = sqlite3.connect(tmp_path / ".data/lab.sqlite3", isolation_level=None)
    live.execute("PRAGMA journal_mode=WAL")
    live.execute("CREATE TABLE reading (density)")
    live.executemany("INSERT INTO reading VALUES (?)", [(0.01 * number,) for number in range(500)])
    python = f'PATH="{sys.exec_prefix}/bin:$PATH"; '
    subprocess.run(["sh", "-c", python + command], cwd=tmp_path, check=True)
    copy = sqlite3.connect(tmp_path / "lab-copy.sqlite3")
    assert copy.execute("SELECT count(*) FROM reading").fetchone() == (500,)
    assert copy.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    copy.close()
    live.close()


def test_upgrading_says_how_results_are_computed_anew(visitor, client_for):
    text = client_for(visitor).get(reverse("help_page", args=["installing"])).text
    assert "python3 manage.py recompute_results" in commands(text)


def test_compose_commands_name_services_that_there_are(visitor, client_for):
    services = set(yaml.safe_load((ROOT / "docker-compose.yml").read_text())["services"])
    client = client_for(visitor)
    lines = [line for slug in SLUGS for line in commands(client.get(reverse("help_page", args=[slug])).text)]
    named = {
        word
        for line in lines
        if (
            found := re.search(
                r"docker compose (?:exec -T|stop|restart|logs)((?: --?\w+(?: \d+)?)*)((?: \w+)+)", line
            )
        )
        for word in found[2].split()[: 2 if " stop " in line else 1]
    }
    assert named
    assert named <= services


def test_manage_commands_are_those_of_the_site(visitor, client_for):
    client = client_for(visitor)
    lines = [line for slug in SLUGS for line in commands(client.get(reverse("help_page", args=[slug])).text)]
    used = {found[1] for line in lines if (found := re.search(r"manage\.py (\w+)", line))}
    assert used == {"fit_readings", "recompute_results", "remeasure_scans", "serve"}
    assert used <= set(get_commands())


def test_the_api_address_of_the_example_is_one(visitor, owner, client_for):
    text = client_for(visitor).get(reverse("help_page", args=["scripting"])).text
    line = next(line for line in commands(text) if line.startswith("curl"))
    path = re.search(r"http://testserver(/\S+)", line)[1]
    token = issue_token(actor=owner, name="example").secret
    answer = client_for(visitor).get(path, headers={"Authorization": f"Token {token}"})
    assert answer.status_code == 200
    assert token.startswith(re.search(r"Token (\w+)", line)[1])
