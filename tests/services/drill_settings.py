"""Settings of the processes that drills start: the site's own as far as the jobs app, and the drill jobs."""

from labsite.settings import *  # noqa: F403
from labsite.settings import INSTALLED_APPS

# The drills come first, to be ready before the jobs app. The apps above it would only slow each start.
ABOVE_JOBS = ("labsite.demo", "scans", "curves")
INSTALLED_APPS = [
    "tests.services.apps.DrillsConfig",
    *(name for name in INSTALLED_APPS if name not in ABOVE_JOBS),
]
ROOT_URLCONF = "tests.services.urls"
# No drill shows a page. Looking for template tags would import all that measures films, scipy included.
TEMPLATES = []
