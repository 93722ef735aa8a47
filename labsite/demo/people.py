"""The club's members, joined by invites as anybody would be, with passwords made for this folder alone."""

import json
import secrets

from django.conf import settings

from labsite.accounts.models import User
from labsite.accounts.services import (
    accept_invite,
    create_first_admin,
    create_invite,
    first_admin_link,
    mark_demo_lab,
    update_lab,
)
from labsite.demo.scenario import CONTACT, LAB_NAME, PEOPLE, Person

# Three of these make a password that can be typed from a terminal; there is no fixed one, as a lab
# with a published password might be served to a network by mistake.
WORDS = (
    "amber", "basin", "cinder", "dapple", "ember", "fathom", "gantry", "harbour", "inkwell", "juniper",
    "kettle", "lattice", "mortar", "nettle", "orchard", "pewter", "quarry", "rafter", "saddle", "tallow",
    "umber", "velvet", "willow", "yarrow",
)  # fmt: skip


def join_members() -> dict[str, User]:
    """Make the lab and its people; return them by user name."""
    passwords = {person.username: _password() for person in PEOPLE}
    warden, *others = PEOPLE
    token = first_admin_link().rstrip("/").rsplit("/", 1)[-1]
    people = {warden.username: create_first_admin(token=token, **_account(warden, passwords))}
    actor = people[warden.username]
    mark_demo_lab(actor=actor)
    update_lab(actor=actor, name=LAB_NAME, contact=CONTACT, is_open_to_visitors=True)
    for person in others:
        invite = create_invite(actor=actor, role=person.role, note=person.display_name)
        people[person.username] = accept_invite(token=invite.token, **_account(person, passwords))
    _remember(passwords)
    return people


def demo_accounts() -> list[tuple[str, str, str]]:
    """Return user name, password and role of every demo account, as they were made."""
    passwords = json.loads(_file().read_text())
    return [(person.username, passwords[person.username], person.role) for person in PEOPLE]


def _account(person: Person, passwords: dict[str, str]) -> dict:
    return {
        "username": person.username,
        "display_name": person.display_name,
        "initials": person.initials,
        "password": passwords[person.username],
    }


def _password() -> str:
    return "-".join([*(secrets.choice(WORDS) for _ in range(3)), f"{secrets.randbelow(100):02d}"])


def _remember(passwords: dict[str, str]) -> None:
    file = _file()
    file.touch(mode=0o600)
    file.write_text(json.dumps(passwords, indent=1))


def _file():
    return settings.DATA_DIR / "demo_accounts.json"
