"""A lab that asks its admins for a second factor: who has none may do what a member may, and is told how
to mend it."""

import pytest
from django.core.checks import run_checks
from django.urls import reverse

from curves.services.reviews import withdraw_roll
from labsite import checks
from labsite.accounts.models import AuditRecord, Lab, User
from labsite.accounts.queries import current_lab, people_visible_to
from labsite.accounts.services import change_role, turn_off_second_factor, update_lab
from labsite.common.access import is_admin, is_member, require_admin
from labsite.common.errors import NotAllowed, WrongState
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.factories.scripts import Script
from tests.factories.second_factors import PASSWORD, turn_on_second_factor

SETTINGS = {"name": "Lab", "contact": "", "is_open_to_visitors": False}


@pytest.fixture
def asking_lab(admin):
    """The lab asks for it; the admin who turned that on has one."""
    codes = turn_on_second_factor(admin)
    update_lab(actor=admin, **SETTINGS, admins_need_second_factor=True)
    return codes


@pytest.fixture
def bare_admin(asking_lab):
    """Another admin, who has none."""
    return User.objects.create_user("bare", PASSWORD, display_name="Bea Are", initials="BA", role="admin")


def test_a_fresh_lab_does_not_ask(admin):
    assert not current_lab().admins_need_second_factor
    assert is_admin(admin)


def test_only_who_has_one_may_ask_the_others(admin):
    with pytest.raises(WrongState) as refusal:
        update_lab(actor=admin, **SETTINGS, admins_need_second_factor=True)
    assert refusal.value.field == "admins_need_second_factor"
    assert not Lab.objects.filter(admins_need_second_factor=True).exists()


def test_asking_is_told_in_the_history_and_other_settings_leave_it(admin, asking_lab):
    record = AuditRecord.objects.latest("id")
    assert (record.action, record.after["admins_need_second_factor"]) == ("update lab", True)
    update_lab(actor=admin, **SETTINGS | {"name": "Other"})
    assert current_lab().admins_need_second_factor
    update_lab(actor=admin, **SETTINGS, admins_need_second_factor=False)
    assert not current_lab().admins_need_second_factor


def test_an_admin_without_one_is_a_member_until_it_is_set_up(bare_admin):
    assert is_member(bare_admin) and not is_admin(bare_admin)
    assert not people_visible_to(bare_admin).exists()
    with pytest.raises(NotAllowed, match="Your account, Second factor") as refusal:
        require_admin(bare_admin)
    assert refusal.value.code == "second_factor_required"
    turn_on_second_factor(bare_admin)
    assert is_admin(bare_admin)


def test_members_are_asked_for_nothing(asking_lab, owner):
    with pytest.raises(NotAllowed, match="Only an admin") as refusal:
        require_admin(owner)
    assert refusal.value.code == "not_allowed"


def test_who_becomes_an_admin_needs_one(admin, asking_lab, owner):
    change_role(actor=admin, person_id=owner.pk, role="admin")
    assert not is_admin(User.objects.get(pk=owner.pk))


def test_who_turns_it_off_is_a_member_again(admin, asking_lab):
    turn_off_second_factor(actor=admin, current_password=PASSWORD, code=asking_lab[0])
    admin = User.objects.get(pk=admin.pk)
    assert is_member(admin) and not is_admin(admin)


def test_pages_say_how_to_mend_it(bare_admin, client_for):
    answer = client_for(bare_admin).get("/lab/people/")
    assert answer.status_code == 403
    assert "asks its admins for a second factor" in answer.text
    assert 'href="/account/second-factor/"' in answer.text[answer.text.index("<main") :]


def test_the_api_says_the_same_to_their_tokens(bare_admin):
    script = Script(bare_admin)
    refusal = script.refused("get", "verdicts/waiting/", status=403)
    assert refusal["code"] == "second_factor_required"
    assert "Your account, Second factor" in refusal["message"]
    me = script.get("me/")
    assert (me["username"], me["role"], me["waits_for_second_factor"]) == ("bare", "admin", True)
    assert me["lab"]["admins_need_second_factor"]


def test_tokens_of_who_has_one_go_on_without_a_code(admin, asking_lab):
    assert not Script(admin).get("me/")["waits_for_second_factor"]
    assert Script(admin).get("verdicts/waiting/")["count"] == 0


def test_a_refusal_for_want_of_the_role_says_it_too(bare_admin, admin, owner, client_for):
    roll = make_roll(owner, make_batch(owner), make_standards(admin))
    with pytest.raises(NotAllowed) as refusal:
        withdraw_roll(actor=bare_admin, roll_id=roll.pk, reasons="wrong box")
    assert "only its member or an admin" in refusal.value.message
    reasons = {"reasons": "wrong box"}
    refused = Script(bare_admin).refused("post", f"rolls/{roll.pk}/withdraw/", reasons, status=403)
    assert refused["message"].startswith(refusal.value.message)
    assert refused["code"] == "second_factor_required"
    page = client_for(bare_admin).get(reverse("roll_withdraw", args=[roll.pk]))
    assert page.status_code == 403 and "asks its admins for a second factor" in page.text


def test_the_check_of_a_deployment_warns_when_it_is_off(admin):
    def found(**given):
        warnings = run_checks(tags=["database"], include_deployment_checks=True, **given)
        return [warning.id for warning in warnings if warning.id == "labsite.W004"]

    assert found(databases=["default"]) == ["labsite.W004"]
    assert found() == checks.admins_second_factor(None) == []
    turn_on_second_factor(admin)
    update_lab(actor=admin, **SETTINGS, admins_need_second_factor=True)
    assert found(databases=["default"]) == []
