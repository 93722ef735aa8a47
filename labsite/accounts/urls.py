"""Addresses of the accounts app: joining, one's own account, and the lab's people and history."""

from django.urls import path

from labsite.accounts.pages import account, history, joining, lab, people, sign_in, theme, tokens

app_name = "accounts"

urlpatterns = [
    path("account/sign-in/", sign_in.sign_in, name="sign_in"),
    path("account/sign-out/", sign_in.sign_out, name="sign_out"),
    path("account/sign-out-everywhere/", account.sign_out_everywhere, name="sign_out_everywhere"),
    path("account/theme/", theme.choose_theme, name="theme"),
    path("account/", account.profile, name="profile"),
    path("account/password/", account.password, name="password"),
    path("account/tokens/", tokens.tokens, name="tokens"),
    path("account/tokens/<int:token_id>/revoke/", tokens.revoke, name="revoke_token"),
    path("invite/<str:token>/", joining.invite, name="invite"),
    path("first-admin/<str:token>/", joining.first_admin, name="first_admin"),
    path("new-password/<str:token>/", joining.new_password, name="new_password"),
    path("lab/people/", people.people, name="people"),
    path("lab/people/<int:person_id>/", people.person, name="person"),
    path("lab/people/<int:person_id>/role/", people.change_role, name="change_role"),
    path("lab/people/<int:person_id>/retire/", people.retire, name="retire"),
    path("lab/people/<int:person_id>/reactivate/", people.reactivate, name="reactivate"),
    path("lab/people/<int:person_id>/password-link/", people.password_link, name="password_link"),
    path("lab/people/invites/<int:invite_id>/revoke/", people.revoke_invite, name="revoke_invite"),
    path("lab/history/", history.history, name="history"),
    path("lab/settings/", lab.settings, name="lab_settings"),
]
