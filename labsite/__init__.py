"""Common Grey, the site: settings, people, jobs and what every app shares."""

__version__ = "0.1.0"
