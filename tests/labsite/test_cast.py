"""The cast of the tests stands to the lab as its names say."""

import pytest

from labsite.common.access import is_admin, is_member


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("who", "member", "admin_too"),
    [
        ("owner", True, False),
        ("labmate", True, False),
        ("admin", True, True),
        ("stranger", False, False),
        ("visitor", False, False),
    ],
)
def test_roles(request, client_for, who, member, admin_too):
    user = request.getfixturevalue(who)
    assert is_member(user) is member
    assert is_admin(user) is admin_too
    response = client_for(user).get("/no/such/page/")
    assert response.context["is_member"] is member
    assert response.context["user"].is_authenticated is member
