"""The one settings file, for two modes: embedded (SQLite, one process), production (PostgreSQL, Redis)."""

from pathlib import Path

from labsite import env

BASE_DIR = Path(__file__).resolve().parent.parent
MODE = env.choice("MODE", ("embedded", "production"), "embedded")
IS_PRODUCTION = MODE == "production"
DATA_DIR = env.folder("DATA_DIR", BASE_DIR / ".data")
DEBUG = False if IS_PRODUCTION else env.flag("DEBUG", False)
SECRET_KEY = env.text("SECRET_KEY") if IS_PRODUCTION else env.secret_file(DATA_DIR / "secret_key")
# 127.0.0.1 stays allowed in production: the container asks itself whether it is well.
ALLOWED_HOSTS = [*env.words("ALLOWED_HOSTS", None if IS_PRODUCTION else "localhost,[::1]"), "127.0.0.1"]

INSTALLED_APPS = [
    "labsite",
    "labsite.demo",
    "scans",
    "curves",
    "labsite.jobs",
    "labsite.accounts",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.humanize",
    "whitenoise.runserver_nostatic",
    "labsite.apps.CollectedFiles",
    "rest_framework",
    "drf_spectacular",
    "django_htmx",
]

MIDDLEWARE = [
    "labsite.middleware.RequestId",
    "labsite.middleware.ForwardedAddress",
    "django.middleware.security.SecurityMiddleware",
    "labsite.middleware.BrowserPolicy",
    "labsite.middleware.TextCompression",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "labsite.faults.Refusals",
]

ROOT_URLCONF = "labsite.urls"
WSGI_APPLICATION = "labsite.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "labsite.accounts.context.lab",
            ],
        },
    }
]

# --- Database. SQLite as measured: WAL with IMMEDIATE transactions loses no write to "locked", while
# either alone does; NORMAL is safe with WAL (a power cut may lose the last commits, never the file).
SQLITE = {
    "ENGINE": "django.db.backends.sqlite3",
    "NAME": DATA_DIR / "lab.sqlite3",
    "OPTIONS": {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;",
    },
}
if IS_PRODUCTION:
    DATABASES = {"default": env.database("DATABASE_URL", "DATABASE_PASSWORD")}
    DATABASES["default"] |= {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}
else:
    DATABASES = {"default": SQLITE}

# --- People and sessions
AUTH_USER_MODEL = "accounts.User"
LOGIN_URL = "/account/sign-in/"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "/"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
_VALIDATORS = "django.contrib.auth.password_validation."
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": _VALIDATORS + "UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("username", "display_name", "email")},
    },
    {"NAME": _VALIDATORS + "MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": _VALIDATORS + "CommonPasswordValidator"},
]
SESSION_COOKIE_AGE = 14 * 24 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "labsite.faults.csrf_failure"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

# --- What the browser may do, and how it must come
TRUSTED_PROXIES = env.integer("TRUSTED_PROXIES", 0)
IS_HTTPS = env.flag("HTTPS", IS_PRODUCTION)
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = IS_HTTPS
SECURE_REDIRECT_EXEMPT = [r"^healthz/"]  # asked by the container engine, from inside
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if IS_HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = IS_HTTPS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if TRUSTED_PROXIES else None
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
DATA_UPLOAD_MAX_MEMORY_SIZE = 3 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
FILE_UPLOAD_MAX_MEMORY_SIZE = 3 * 1024 * 1024

# --- Files
STATIC_URL = "/static/"
STATIC_ROOT = env.folder("STATIC_DIR", DATA_DIR / "static")
MEDIA_ROOT = DATA_DIR / "files"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "labsite.common.storage.StaticFiles"},
}

# --- Jobs. The embedded lab needs no broker: its runner thread claims job rows from the database.
CELERY_BROKER_URL = env.redis("REDIS_URL", "REDIS_PASSWORD") if IS_PRODUCTION else "memory://"

# --- API
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "labsite.accounts.tokens.LabTokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": [
        "rest_framework.parsers.JSONParser",
        "rest_framework.parsers.MultiPartParser",
    ],
    "DEFAULT_PAGINATION_CLASS": "labsite.common.api.Paging",
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "labsite.common.api.error_handler",
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Common Grey",
    "DESCRIPTION": "Film stocks, rolls, readings, characteristic curves and comparisons of one lab.",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.AllowAny"],
    "COMPONENT_SPLIT_REQUEST": True,
}

# --- Words and clocks
LANGUAGE_CODE = "en-gb"
USE_I18N = True
USE_TZ = True
TIME_ZONE = env.time_zone("TIME_ZONE", "UTC")
#: Days after which the coverage board calls a stock's newest accepted roll stale.
STALE_AFTER_DAYS = env.integer("STALE_AFTER_DAYS", 365, minimum=1)

# --- One line to stderr for each event, with the id of the request that caused it
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"request_id": {"()": "labsite.common.request_id.RequestIdFilter"}},
    "formatters": {
        "line": {"format": "%(asctime)s %(levelname)s %(name)s [%(request_id)s] %(message)s"},
    },
    "handlers": {
        "stderr": {
            "class": "logging.StreamHandler",
            "filters": ["request_id"],
            "formatter": "line",
        },
    },
    "root": {
        "handlers": ["stderr"],
        "level": env.choice("LOG_LEVEL", ("DEBUG", "INFO", "WARNING", "ERROR"), "INFO"),
    },
    "loggers": {"django": {"handlers": [], "propagate": True}},
}
