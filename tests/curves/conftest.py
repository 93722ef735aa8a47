"""A lab that the tests of a module share."""

from copy import deepcopy

import pytest

from labsite.accounts.models import User
from tests.factories.taken_back import taken_back


@pytest.fixture(scope="module")
def shared_lab(request, django_db_setup, django_db_blocker):
    """What the module's ``build_lab(owner, admin)`` makes, once: with its fits it takes a second or two.

    Tests of the module that do without run before it is made (``tests/conftest.py`` sees to that).
    """
    with django_db_blocker.unblock(), taken_back():
        owner = User.objects.create_user("owner", "grey-card-18", display_name="Ola Ownfield", initials="OO")
        admin = User.objects.create_user(
            "admin", "grey-card-18", display_name="Ada Minster", initials="AM", role="admin"
        )
        yield request.module.build_lab(owner, admin)


@pytest.fixture
def lab(shared_lab, db):
    """The shared lab as it was made, to be changed at will: each test takes its changes back."""
    return deepcopy(shared_lab)
