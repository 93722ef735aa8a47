"""Access tokens: hashed, shown once, narrower than their owner, dead when revoked."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from rest_framework.response import Response
from rest_framework.test import APIRequestFactory
from rest_framework.views import APIView

from labsite.accounts.models import ApiToken, AuditRecord, User
from labsite.accounts.models.secrets import hash_token
from labsite.accounts.services import issue_token, revoke_token
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState


class WhoAmI(APIView):
    """Answers with the name of whoever asks."""

    def get(self, request):
        return Response(request.user.username)

    post = get


def ask(header: str | None, method: str = "get"):
    headers = {} if header is None else {"HTTP_AUTHORIZATION": header}
    return WhoAmI.as_view()(getattr(APIRequestFactory(), method)("/", **headers))


def test_a_token_acts_as_its_owner(owner):
    made = issue_token(actor=owner, name="Bench script")
    answer = ask(f"Token {made.secret}")
    assert (answer.status_code, answer.data) == (200, "owner")


def test_only_the_hash_is_stored(owner):
    made = issue_token(actor=owner, name="Bench script")
    assert made.secret.startswith("cg_")
    row = ApiToken.objects.values().get()
    assert row["token_hash"] == hash_token(made.secret)
    assert made.secret not in str(row) + str(list(AuditRecord.objects.values()))


def test_a_token_lasts_ninety_days_and_only_reads_unless_told(owner):
    row = issue_token(actor=owner, name="Bench script").row
    assert row.is_read_only
    assert row.expires_at - row.created_at == pytest.approx(timedelta(days=90), abs=timedelta(seconds=5))


@pytest.mark.parametrize("method", ["post"])
def test_a_read_only_token_changes_nothing(owner, method):
    made = issue_token(actor=owner, name="Reader")
    answer = ask(f"Token {made.secret}", method)
    assert answer.status_code == 403
    assert "only read" in answer.data["message"]
    writer = issue_token(actor=owner, name="Writer", is_read_only=False)
    assert ask(f"Token {writer.secret}", method).status_code == 200


@pytest.mark.parametrize(
    "header", ["Token", "Token a b", "Token cg_made-up", "Token \xff", "Bearer cg_made-up", None]
)
@pytest.mark.django_db
def test_without_a_good_token_nobody_gets_in(header):
    answer = ask(header)
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"] == "Token"


def test_expired_and_revoked_tokens_and_those_of_retired_people_are_refused_alike(owner):
    secrets = [issue_token(actor=owner, name=name).secret for name in ("expired", "revoked", "retired")]
    ApiToken.objects.filter(name="expired").update(expires_at=timezone.now() - timedelta(seconds=1))
    revoke_token(actor=owner, token_id=ApiToken.objects.get(name="revoked").pk)
    assert [ask(f"Token {secret}").status_code for secret in secrets] == [401, 401, 200]
    User.objects.filter(pk=owner.pk).update(is_active=False)
    answers = [ask(f"Token {secret}").data["message"] for secret in [*secrets, "cg_made-up"]]
    assert len(set(answers)) == 1


def test_use_is_noted_once_a_minute(owner):
    made = issue_token(actor=owner, name="Bench script")
    assert made.row.last_used_at is None
    with CaptureQueriesContext(
        connection,
    ) as first:
        ask(f"Token {made.secret}")
    with CaptureQueriesContext(connection) as second:
        ask(f"Token {made.secret}")
    assert (len(first), len(second)) == (2, 1)
    made.row.refresh_from_db()
    assert timezone.now() - made.row.last_used_at < timedelta(seconds=30)
    ApiToken.objects.update(last_used_at=timezone.now() - timedelta(seconds=61))
    ask(f"Token {made.secret}")
    made.row.refresh_from_db()
    assert timezone.now() - made.row.last_used_at < timedelta(seconds=30)


@pytest.mark.parametrize("who", ["stranger", "visitor"])
def test_only_members_have_tokens(request, who):
    with pytest.raises(NotAllowed):
        issue_token(actor=request.getfixturevalue(who), name="Bench script")
    with pytest.raises(NotAllowed):
        revoke_token(actor=request.getfixturevalue(who), token_id=1)


@pytest.mark.parametrize("days", [0, 367])
def test_every_fault_of_a_token_is_told(owner, days):
    with pytest.raises(InvalidInput) as refusal:
        issue_token(actor=owner, name=" ", days=days)
    assert {problem["field"] for problem in refusal.value.problems} == {"name", "days"}
    assert not ApiToken.objects.exists()


def test_nobody_revokes_another_persons_token(owner, labmate, admin):
    row = issue_token(actor=owner, name="Bench script").row
    for other in (labmate, admin):
        with pytest.raises(NotFound):
            revoke_token(actor=other, token_id=row.pk)
    revoke_token(actor=owner, token_id=row.pk)
    with pytest.raises(WrongState):
        revoke_token(actor=owner, token_id=row.pk)
