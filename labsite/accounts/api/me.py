"""Who asks: the person behind the token, the token itself and the lab."""

from rest_framework import serializers

from labsite.accounts.api.access import Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Choice, Given, text
from labsite.accounts.api.views import LabView
from labsite.accounts.models import ApiToken
from labsite.accounts.models.people import Credit, Role
from labsite.accounts.queries import current_lab
from labsite.accounts.services import update_profile
from labsite.common.access import waits_for_second_factor

PROFILE = ("display_name", "initials", "email", "credit")


class TokenSerializer(serializers.Serializer):
    """The token that the request carries; never its secret."""

    name = serializers.CharField()
    is_read_only = serializers.BooleanField(help_text="Whether it may read only.")
    expires_at = serializers.DateTimeField()


class LabSerializer(serializers.Serializer):
    """The lab's settings."""

    name = serializers.CharField()
    contact = serializers.CharField()
    is_demo = serializers.BooleanField(help_text="Whether everything here is invented.")
    is_open_to_visitors = serializers.BooleanField()
    admins_need_second_factor = serializers.BooleanField()


class MeSerializer(serializers.Serializer):
    """The person who asks."""

    id = serializers.IntegerField()
    username = serializers.CharField()
    display_name = serializers.CharField()
    initials = serializers.CharField()
    email = serializers.CharField()
    role = Choice(Role)
    waits_for_second_factor = serializers.BooleanField(
        help_text="Whether the rights of an admin wait for a second factor; until then a member's count."
    )
    credit = Choice(Credit, help_text="How the person is named on published sheets.")
    token = TokenSerializer(allow_null=True, help_text="Null where a browser session asks.")
    lab = LabSerializer()


class ProfileChangesSerializer(Given):
    """What may change about oneself; what is not given stays."""

    display_name = text(required=False, max_length=80)
    initials = text(required=False, max_length=6)
    email = text(required=False, max_length=254)
    credit = Choice(Credit, required=False)


class Me(LabView):
    """The person behind the token."""

    @operation(access=Members, answer=MeSerializer)
    def get(self, request):
        """Read who you are, what your token may, and the lab's settings."""
        return self._answer(request.user)

    @operation(access=Members, body=ProfileChangesSerializer, answer=MeSerializer)
    def patch(self, request):
        """Change your name, initials, email or how you are credited."""
        own = {name: getattr(request.user, name) for name in PROFILE}
        return self._answer(update_profile(actor=request.user, **own | self.given(ProfileChangesSerializer)))

    def _answer(self, person):
        row = {name: getattr(person, name) for name in ("id", "username", "role", *PROFILE)}
        token = self.request.auth if isinstance(self.request.auth, ApiToken) else None
        row["waits_for_second_factor"] = waits_for_second_factor(person)
        return self.answer(MeSerializer, row | {"token": token, "lab": current_lab()})
