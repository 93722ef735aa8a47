"""The lab's people: accounts and roles, invites, access tokens, the lab's settings, the history."""
