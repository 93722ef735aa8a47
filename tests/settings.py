"""Settings of the test run: the site's own, in a private folder, with a quick hasher and a file database."""

import atexit
import os
import shutil
import tempfile

# Set before the site's settings are read. The first process of a run makes the folder; the others
# (pytest-xdist workers, commands started by a test) inherit its name.
if "LABSITE_TEST_DIR" not in os.environ:
    os.environ["LABSITE_TEST_DIR"] = tempfile.mkdtemp(prefix="common-grey-tests-")
    atexit.register(shutil.rmtree, os.environ["LABSITE_TEST_DIR"], ignore_errors=True)
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # a test process a core; more threads only get in the way
os.environ["LABSITE_DATA_DIR"] = os.environ["LABSITE_TEST_DIR"]
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")

from labsite.settings import *  # noqa: F403
from labsite.settings import SQLITE, STATIC_ROOT, env

# Nothing is collected: static files are looked up among the sources when a page asks for them.
WHITENOISE_USE_FINDERS = WHITENOISE_AUTOREFRESH = True
STATIC_ROOT.mkdir(exist_ok=True)  # WhiteNoise warns when the folder is missing
ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
TEST_RUNNER = "tests.runner.PytestRunner"

if os.environ.get("LABSITE_TEST_DATABASE_URL"):
    DATABASES = {"default": env.database("TEST_DATABASE_URL")}
else:
    # A file, not memory: the live server and the job runner are threads, and SQLite's shared memory
    # database answers "table is locked" between threads whatever the timeout.
    DATABASES = {"default": SQLITE | {"TEST": {"NAME": f"{os.environ['LABSITE_TEST_DIR']}/test.sqlite3"}}}
