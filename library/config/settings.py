"""Settings, all from the environment, each with a safe default.

Nothing set: embedded mode, SQLite under ``.sowback/``, mail to the console, debug off.
``DATABASE_URL`` and ``REDIS_URL`` make it served mode.
"""

from __future__ import annotations

from pathlib import Path
from urllib.parse import urlsplit

from csp.constants import NONE, SELF
from environs import Env

from library.config import catalogs, environment
from library.config.secret import secret_key

BASE_DIR = Path(__file__).resolve().parent.parent.parent
env = Env()

DATA_DIR = environment.data_dir(env, default=BASE_DIR / ".sowback")
MACHINE_CODE_DIR = DATA_DIR / "machine-code"  # of the loops by which season plans are bounded

DEBUG = env.bool("SOWBACK_DEBUG", default=False)
SECRET_KEY = env.str("SOWBACK_SECRET_KEY", default="") or secret_key(DATA_DIR / "secret-key")

# The address people type; links in mail start with it. TLS is decided by its scheme.
SITE_URL = environment.site_url(env, default="http://localhost:8000")
SERVED_OVER_TLS = urlsplit(SITE_URL).scheme == "https"
ALLOWED_HOSTS = env.list(
    "SOWBACK_HOSTS", default=[urlsplit(SITE_URL).hostname, "localhost", "127.0.0.1", "[::1]"]
)
CSRF_TRUSTED_ORIGINS = [SITE_URL]

INSTALLED_APPS = [
    "library.config.apps.ConfigConfig",
    "library.demo",
    "library.calendars",
    "library.reminders",
    "library.exchange",
    "library.household",
    "library.paper",
    "library.firstday",
    "library.cardbox",
    "library.album",
    "library.growouts",
    "library.lending",
    "library.provenance",
    "library.germination",
    "library.stock",
    "library.catalogue",
    "library.photos",
    "accounts",
    "library.outbox",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "rest_framework",
    "knox",
    "django_filters",
    "drf_spectacular",
    "django.forms",
    "django_htmx",
    "csp",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "library.config.wire.PackedFiles",
    "library.config.wire.PackedPages",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "accounts.middleware.MemberPreferences",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "library.config.errors.NoNullCharacters",
    "library.config.errors.RefusalPages",
]

ROOT_URLCONF = "library.config.urls"
WSGI_APPLICATION = "library.config.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "accounts.context.community",
                "accounts.context.languages",
            ],
        },
    },
]

# Databases ------------------------------------------------------------------------------
DATABASES = {
    "default": environment.database(env, default=f"sqlite:///{DATA_DIR / 'library.sqlite3'}")
}
# Connections are kept between requests (conn_max_age in environment.database): SQLite too reads
# its whole schema anew on each, which costs as much as two pages' queries.
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["OPTIONS"] = {
        # Immediate: a writer waits at BEGIN, where waiting is safe, not half-way through.
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;",
    }
else:
    # A statement that comes again is planned once: half of the database's work on a loan.
    DATABASES["default"].setdefault("OPTIONS", {}).update(
        server_side_binding=True, prepare_threshold=5
    )
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# Background work ------------------------------------------------------------------------
REDIS_URL = environment.redis_url(env)
CELERY_BROKER_URL = REDIS_URL or "memory://"
# Several libraries can share one Redis, each with a queue of its own.
CELERY_TASK_DEFAULT_QUEUE = env.str("SOWBACK_QUEUE", default="sowback")
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
# However long Redis is away: Celery's own hundred attempts are over within an hour.
CELERY_BROKER_CONNECTION_MAX_RETRIES = None
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE_FILENAME = str(DATA_DIR / "celerybeat-schedule")
# A broker that is down must not hold a request for long; the sweep finds what it missed.
CELERY_BROKER_CONNECTION_TIMEOUT = 2
CELERY_BROKER_TRANSPORT_OPTIONS = {"socket_connect_timeout": 2, "socket_timeout": 5}

# People ---------------------------------------------------------------------------------
AUTH_USER_MODEL = "accounts.Member"
AUTHENTICATION_BACKENDS = ["accounts.backends.RoleBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "home"
ACCOUNT_ADAPTER = "accounts.adapter.MemberAdapter"
ACCOUNT_FORMS = {"signup": "accounts.forms.ApplyForm"}
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*", "password2*"]
ACCOUNT_UNIQUE_EMAIL = True
ACCOUNT_EMAIL_VERIFICATION = "mandatory"
ACCOUNT_PREVENT_ENUMERATION = True
ACCOUNT_LOGIN_ON_EMAIL_CONFIRMATION = True  # only in the browser that signed up
ACCOUNT_CHANGE_EMAIL = True  # one address each; the old one stays until the new is confirmed
ACCOUNT_REAUTHENTICATION_REQUIRED = True  # a new email or factor needs the password again
ACCOUNT_EMAIL_NOTIFICATIONS = True  # "your password was changed"
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
ACCOUNT_DEFAULT_HTTP_PROTOCOL = "https" if SERVED_OVER_TLS else "http"
MFA_TOTP_ISSUER = "Sowback"
MFA_TOTP_TOLERANCE = 1  # clocks of phones are a little off
# Sign-in is rate-limited by address (allauth's limits); behind a proxy, by the one it names.
ALLAUTH_TRUSTED_PROXY_COUNT = 1 if env.bool("SOWBACK_BEHIND_PROXY", default=False) else 0
# The limits are counted in the cache, which several web processes must share.
CACHES = {
    "default": (
        {
            "BACKEND": "library.config.cache.ForgivingRedisCache",
            "LOCATION": REDIS_URL,
            "OPTIONS": {"socket_connect_timeout": 1, "socket_timeout": 2},
        }
        if REDIS_URL
        else {
            "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
            "OPTIONS": {"MAX_ENTRIES": 50_000},  # what is remembered of each lot
        }
    )
}

# Language and time ----------------------------------------------------------------------
LANGUAGE_CODE = "en"
FORMAT_MODULE_PATH = "library.config.formats"
LANGUAGES = [("en", "English"), ("de", "Deutsch")]  # each in its own words
_sources = BASE_DIR / "library" / "config" / "locale"
LOCALE_PATHS = [_sources, catalogs.compiled(_sources, into=DATA_DIR / "locale")]
TIME_ZONE = "UTC"
USE_TZ = True

# Pages ----------------------------------------------------------------------------------
FORM_RENDERER = "library.config.forms.FormRenderer"
STATIC_URL = "/static/"
STATIC_ROOT = DATA_DIR / "static"
STATIC_ROOT.mkdir(exist_ok=True)  # whitenoise warns of a folder that is not there yet
WHITENOISE_USE_FINDERS = True

# Safety ---------------------------------------------------------------------------------
SECURE_SSL_REDIRECT = SERVED_OVER_TLS and env.bool("SOWBACK_SSL_REDIRECT", default=True)
SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^metrics$"]
SECURE_HSTS_SECONDS = env.int(
    "SOWBACK_HSTS_SECONDS", default=3600 * 24 * 30 if SERVED_OVER_TLS else 0
)
# Subdomains and preloading are for the owner of the whole domain to decide, not for us.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
SECURE_PROXY_SSL_HEADER = (
    ("HTTP_X_FORWARDED_PROTO", "https")
    if env.bool("SOWBACK_BEHIND_PROXY", default=False)
    else None
)
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SERVED_OVER_TLS
SESSION_COOKIE_HTTPONLY = True
CSRF_FAILURE_VIEW = "library.config.errors.form_too_old"
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SECURE_CONTENT_TYPE_NOSNIFF = True
# Whether subdomains are served over TLS too is for the domain's owner to say, not for us.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "img-src": [SELF, "data:"],
        "object-src": [NONE],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "form-action": [SELF],
    }
}
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024

# Being watched --------------------------------------------------------------------------
METRICS_TOKEN = env.str("SOWBACK_METRICS_TOKEN", default="")

# Mail -----------------------------------------------------------------------------------
# Every mail waits in the outbox table; the runner or a worker delivers it by DELIVERY_*.
EMAIL_BACKEND = "library.outbox.backend.OutboxBackend"
_email = environment.email(env)
OUTBOX_DELIVERY_BACKEND = _email["EMAIL_BACKEND"]
EMAIL_HOST = _email.get("EMAIL_HOST", "localhost")
EMAIL_PORT = _email.get("EMAIL_PORT", 25)
EMAIL_HOST_USER = _email.get("EMAIL_HOST_USER", "")
EMAIL_HOST_PASSWORD = _email.get("EMAIL_HOST_PASSWORD", "")
EMAIL_USE_TLS = _email.get("EMAIL_USE_TLS", False)
EMAIL_USE_SSL = _email.get("EMAIL_USE_SSL", False)
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = env.str("SOWBACK_MAIL_FROM", default="Seed library <library@localhost>")

# API ------------------------------------------------------------------------------------
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "accounts.authentication.TokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["accounts.access.IsMemberOrReadOnly"],
    "DEFAULT_PAGINATION_CLASS": "library.config.pagination.Pages",
    "PAGE_SIZE": 50,
    "DEFAULT_FILTER_BACKENDS": ["django_filters.rest_framework.DjangoFilterBackend"],
    "DEFAULT_SCHEMA_CLASS": "library.config.schema.LibrarySchema",
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "EXCEPTION_HANDLER": "library.config.errors.api_refusal",
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
REST_KNOX = {
    "TOKEN_MODEL": "accounts.ApiToken",
    "TOKEN_TTL": None,
    "AUTH_HEADER_PREFIX": "Token",
}
KNOX_TOKEN_MODEL = "accounts.ApiToken"  # noqa: S105 (a model, not a password)
# Its migrations make the table of its own token model, which ours replaces.
MIGRATION_MODULES = {"knox": None}
SPECTACULAR_SETTINGS = {
    "TITLE": "Sowback",
    "DESCRIPTION": "A community seed library: lots, packets, loans, returns and tests.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "COMPONENT_SPLIT_REQUEST": True,
    "ENUM_NAME_OVERRIDES": {
        "BreedingStatusEnum": "library.catalogue.models.BreedingStatus",
        "ShelfDecisionEnum": "library.germination.models.ShelfDecision.Decision",
        "TestDateKindEnum": "library.germination.models.TestDate.Kind",
        "GerminationTestKindEnum": "library.germination.models.GerminationTest.Kind",
        "CardImportKindEnum": "library.cardbox.models.Kind",
        "CardImportStateEnum": "library.cardbox.models.CardImport.State",
        "CardRowFateEnum": "library.cardbox.models.CardRow.Fate",
        "ChainImportStateEnum": "library.exchange.models.ChainImport.State",
        "CommitmentStateEnum": "library.growouts.models.Commitment.State",
        "IsolationEnum": "library.stock.models.Isolation",
        "KeptApartEnum": "library.household.models.KeptApart",
        "MilestoneKindEnum": "library.growouts.models.Milestone.Kind",
        "PinKindEnum": "library.growouts.models.Pin.Kind",
        "PlanStateEnum": "library.growouts.models.Plan.State",
        "PaperKindEnum": "library.paper.models.Kind",
        "PrintJobStateEnum": "library.paper.models.PrintJob.State",
    },
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s: %(message)s"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": env.str("SOWBACK_LOG_LEVEL", default="WARNING")},
}
