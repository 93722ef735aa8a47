"""The lab of something of every kind, made once a module."""

import pytest

from labsite.accounts.models import User
from tests.architecture.access_lab import AccessLab, build_access_lab
from tests.factories.taken_back import taken_back

PEOPLE = {
    "owner": "Ola Ownfield",
    "labmate": "Lin Matelle",
    "admin": "Ada Minster",
    "stranger": "Stan Ranger",
}


@pytest.fixture(scope="module")
def access_lab(django_db_setup, django_db_blocker) -> AccessLab:
    """Something of every kind; a test that also asks for ``db`` takes back what it changes."""
    with django_db_blocker.unblock(), taken_back():
        people = {
            username: User.objects.create_user(
                username,
                "grey-card-18",
                display_name=name,
                initials="".join(part[0] for part in name.split()),
                role="admin" if username == "admin" else "member",
                is_active=username != "stranger",
            )
            for username, name in PEOPLE.items()
        }
        yield build_access_lab(**people)
