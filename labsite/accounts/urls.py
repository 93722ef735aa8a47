"""Addresses of the accounts app: joining, one's own account, and the lab's people and history."""

from django.urls import path

from labsite.accounts.pages import (
    account,
    history,
    joining,
    lab,
    people,
    second_factor,
    sign_in,
    theme,
    tokens,
)

app_name = "accounts"

urlpatterns = [
    path("account/sign-in/", sign_in.sign_in, name="sign_in"),
    path("account/sign-in/code/", sign_in.sign_in_code, name="sign_in_code"),
    path("account/sign-out/", sign_in.sign_out, name="sign_out"),
    path("account/sign-out-everywhere/", account.sign_out_everywhere, name="sign_out_everywhere"),
    path("account/theme/", theme.choose_theme, name="theme"),
    path("account/", account.profile, name="profile"),
    path("account/password/", account.password, name="password"),
    path("account/second-factor/", second_factor.second_factor, name="second_factor"),
    path("account/second-factor/begin/", second_factor.begin, name="begin_second_factor"),
    path("account/second-factor/confirm/", second_factor.confirm, name="confirm_second_factor"),
    path("account/second-factor/codes/", second_factor.renew_codes, name="renew_recovery_codes"),
    path("account/second-factor/off/", second_factor.turn_off, name="turn_off_second_factor"),
    path("account/tokens/", tokens.tokens, name="tokens"),
    path("account/tokens/<int:token_id>/revoke/", tokens.revoke, name="revoke_token"),
    path("invite/<str:token>/", joining.invite, name="invite"),
    path("first-admin/<str:token>/", joining.first_admin, name="first_admin"),
    path("new-password/<str:token>/", joining.new_password, name="new_password"),
    path("lab/people/", people.people, name="people"),
    path("lab/people/<int:person_id>/", people.person, name="person"),
    path("lab/people/<int:person_id>/role/", people.change_role, name="change_role"),
    path("lab/people/<int:person_id>/second-factor/", people.take_second_factor, name="take_second_factor"),
    path("lab/people/<int:person_id>/retire/", people.retire, name="retire"),
    path("lab/people/<int:person_id>/reactivate/", people.reactivate, name="reactivate"),
    path("lab/people/<int:person_id>/password-link/", people.password_link, name="password_link"),
    path("lab/people/invites/<int:invite_id>/revoke/", people.revoke_invite, name="revoke_invite"),
    path("lab/history/", history.history, name="history"),
    path("lab/settings/", lab.settings, name="lab_settings"),
]
