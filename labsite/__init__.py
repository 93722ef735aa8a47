"""Common Grey, the site: settings, people, jobs and what every app shares."""
