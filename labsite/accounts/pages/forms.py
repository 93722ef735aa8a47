"""Forms of the accounts pages: they parse what was typed; whether it will do, the services say."""

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS

from labsite.accounts.models.people import Credit, Role
from labsite.common.errors import LabError


class LabForm(forms.Form):
    """A form that keeps what was typed and shows a service's refusal beside the field it is about."""

    def refuse(self, fault: LabError) -> None:
        """Put every problem of a refusal beside its field, or above the form when it has none."""
        problems = fault.problems or ({"field": fault.field, "message": fault.message},)
        for problem in problems:
            name = problem.get("field")
            shown_by = name if name in self.fields else None
            self.add_error(shown_by, forms.ValidationError(problem["message"], code=fault.code))

    def is_refused_as(self, code: str) -> bool:
        """Whether the form as a whole was refused with this code."""
        return self.has_error(NON_FIELD_ERRORS, code)

    def accepted(self, service, **arguments):
        """Return what the service makes of the form, or None when the form or the service refuses."""
        if not self.is_valid():
            return None
        try:
            return service(**arguments, **self.cleaned_data)
        except LabError as fault:
            self.refuse(fault)
            return None


def password_field(label: str, purpose: str, **more) -> forms.CharField:
    """Return a field whose text is neither trimmed nor sent back to the browser."""
    widget = forms.PasswordInput(attrs={"autocomplete": purpose})
    return forms.CharField(label=label, strip=False, widget=widget, **more)


GOOD_CHOICE = "At least 10 characters; not a common password, nor one made of your name."


class SignInForm(LabForm):
    """User name and password."""

    username = forms.CharField(
        label="User name",
        max_length=150,
        widget=forms.TextInput(
            attrs={"autocomplete": "username", "autocapitalize": "none", "autofocus": True}
        ),
    )
    password = password_field("Password", "current-password")


def code_field(label: str, *, inputmode: str = "text", **more) -> forms.CharField:
    """Return a field for a code that is good once."""
    attrs = {"autocomplete": "one-time-code", "autocapitalize": "none", "spellcheck": "false"}
    attrs["inputmode"] = inputmode
    return forms.CharField(label=label, max_length=40, widget=forms.TextInput(attrs=attrs), **more)


CODE_HELP = "The six digits that your app shows now, or one of your recovery codes."


class SignInCodeForm(LabForm):
    """The second step of signing in."""

    code = code_field("Code", help_text=CODE_HELP)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["code"].widget.attrs["autofocus"] = True


class SetUpForm(LabForm):
    """The proof that an app took the key, and that its owner sits here."""

    code = code_field("Code from the app", help_text="The six digits that it shows now.", inputmode="numeric")
    current_password = password_field("Present password", "current-password")


class ProofForm(LabForm):
    """Password and code: what has to be shown before a second factor is changed."""

    current_password = password_field("Present password", "current-password")
    code = code_field("Code", help_text=CODE_HELP)

    def __init__(self, name, *args, **kwargs):
        # The page has two of these, and ids are unique.
        super().__init__(*args, auto_id=f"{name}_%s", **kwargs)


class JoinForm(LabForm):
    """What a new account needs."""

    username = forms.CharField(
        label="User name",
        max_length=40,
        help_text="To sign in with: letters a to z, digits, dots, dashes, underscores.",
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )
    display_name = forms.CharField(
        label="Name", max_length=80, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    initials = forms.CharField(
        label="Initials", max_length=6, help_text="Shown beside readings, up to 6 characters."
    )
    email = forms.EmailField(
        label="Email",
        required=False,
        help_text="For admins to reach you; the site sends no mail.",
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
    )
    password = password_field("Password", "new-password", help_text=GOOD_CHOICE)


class ProfileForm(LabForm):
    """One's own name and how it appears."""

    display_name = forms.CharField(
        label="Name", max_length=80, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    initials = forms.CharField(label="Initials", max_length=6)
    email = forms.EmailField(
        label="Email",
        required=False,
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
    )
    credit = forms.ChoiceField(label="On published sheets I am named", choices=Credit.choices)


class PasswordForm(LabForm):
    """A new password, and the present one as proof."""

    current_password = password_field("Present password", "current-password")
    new_password = password_field("New password", "new-password", help_text=GOOD_CHOICE)


class NewPasswordForm(LabForm):
    """A new password, where a link is the proof."""

    new_password = password_field("New password", "new-password", help_text=GOOD_CHOICE)


class TokenForm(LabForm):
    """A new access token."""

    name = forms.CharField(
        label="What it is for",
        max_length=60,
        help_text="For instance the script or the machine that uses it.",
    )
    days = forms.IntegerField(label="Lasts, days", initial=90)
    is_read_only = forms.BooleanField(
        label="May only read",
        required=False,
        initial=True,
        help_text="Untick for scripts that enter readings.",
    )


class InviteForm(LabForm):
    """A new invite."""

    note = forms.CharField(label="For whom", max_length=120, required=False)
    role = forms.ChoiceField(label="Role", choices=Role.choices)
    days = forms.IntegerField(label="Lasts, days", initial=7)


class RoleForm(LabForm):
    """Another role."""

    role = forms.ChoiceField(label="Role", choices=Role.choices)
    reason = forms.CharField(label="Reason", max_length=500, required=False)

    def __init__(self, *args, **kwargs):
        # The page has a second form with a reason, and ids are unique.
        super().__init__(*args, auto_id="role_%s", **kwargs)


class ReasonForm(LabForm):
    """Why something is done."""

    reason = forms.CharField(label="Reason", max_length=500, required=False)


class FactorReasonForm(LabForm):
    """Why a second factor is taken away."""

    reason = forms.CharField(label="Reason", max_length=500, help_text="For instance a lost phone.")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, auto_id="factor_%s", **kwargs)


class LabSettingsForm(LabForm):
    """The lab's own settings."""

    name = forms.CharField(label="Name of the lab", max_length=80)
    contact = forms.CharField(
        label="Contact",
        max_length=200,
        required=False,
        help_text="How outsiders reach the lab; shown at the foot of every page.",
    )
    is_open_to_visitors = forms.BooleanField(
        label="Open to visitors",
        required=False,
        help_text="People without an account may read accepted results, comparisons and stock sheets.",
    )
    admins_need_second_factor = forms.BooleanField(
        label="Admins sign in with a second factor",
        required=False,
        help_text=(
            "Recommended. An admin who has none may do only what a member may, until it is set up, and so may"
            " the scripts that use that admin’s tokens. You need one of your own to turn this on."
        ),
    )


class HistoryForm(LabForm):
    """Filters of the history; the address keeps them."""

    person_id = forms.TypedChoiceField(label="Who", required=False, coerce=int, empty_value=None)
    action = forms.ChoiceField(label="Did what", required=False)
    about = forms.CharField(label="To what", required=False, max_length=200)
    first_on = forms.DateField(
        label="From", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    last_on = forms.DateField(
        label="To", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    request_id = forms.CharField(label="Request", required=False, max_length=64)
    # Not typed: links from other pages lead here with one subject chosen.
    subject_type = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)
    subject_id = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)

    def __init__(self, data, *, people, actions):
        super().__init__(data)
        self.fields["person_id"].choices = [("", "Anyone"), *((p.pk, str(p)) for p in people)]
        self.fields["action"].choices = [("", "Anything"), *((name, name) for name in actions)]
