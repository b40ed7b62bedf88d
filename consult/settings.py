"""Settings: DATABASE_URL, REDIS_URL, SECRET_KEY, ALLOWED_HOSTS, DEBUG and HTTPS come from the environment."""

import os
import tempfile
from pathlib import Path

from consult.service import environment
from dosing.ground import language

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = BASE_DIR / ".data"

# Every process and command passes here: what it makes, and what its children make, is for its owner alone.
os.umask(environment.FOR_OTHERS)

DEBUG = environment.flag("DEBUG")
HTTPS = environment.flag("HTTPS")
ALLOWED_HOSTS = environment.words("ALLOWED_HOSTS", ["localhost", "127.0.0.1", "[::1]"])

DATABASES = {"default": environment.database(DATA_DIR)}
# Named after the process, so that two test runs on one machine never share a database.
DATABASES["default"]["TEST"] = {
    "NAME": str(Path(tempfile.gettempdir()) / f"consult-test-{os.getpid()}.sqlite3")
    if DATABASES["default"]["ENGINE"].endswith("sqlite3")
    else f"consult_test_{os.getpid()}"
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
SHORT_NAME = environment.short_name(DATABASES["default"])
REDIS_URL = os.environ.get("REDIS_URL", "")
KEY_FILE = environment.beside(DATABASES["default"], DATA_DIR, "secret-key")
ADDRESS_FILE = environment.beside(DATABASES["default"], DATA_DIR, "address")  # where it was served last: for links
SECRET_KEY = environment.secret_key(KEY_FILE)
# Made anew by each run of `demo` for its web process: without it nobody signs in by a press.
DEMONSTRATION_KEY = os.environ.get("DEMONSTRATION_KEY", "")
PROCESSES_FILE = os.environ.get("PROCESSES_FILE", "")  # where `serve` tells its web process what ended by itself
SECRET_KEY_FALLBACKS = environment.words("SECRET_KEY_FALLBACKS", [])
# Heads of the journal, one signed line a minute: outside the database, else a cut-off end could not be seen.
SEALS_FILE = Path(os.environ.get("SEALS_FILE") or environment.beside(DATABASES["default"], DATA_DIR, "seals"))
# Where a sheet of all open cases goes, for when the board cannot be reached; best a disk of another machine.
DOWNTIME_FOLDER = Path(
    os.environ.get("DOWNTIME_FOLDER") or environment.beside(DATABASES["default"], DATA_DIR, "downtime")
)
environment.close_to_others(DATABASES["default"], DATA_DIR, KEY_FILE, ADDRESS_FILE, SEALS_FILE)

INSTALLED_APPS = [
    "consult",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.humanize",
    "django.contrib.messages",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "channels",
    "rest_framework",
    "drf_spectacular",
]

MIDDLEWARE = [
    "consult.middleware.Timed",
    # Around all that can refuse, so that no refusal goes out without them.
    "consult.middleware.Walls",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "consult.middleware.Own",
    "consult.middleware.ApiProblems",
    "django.middleware.security.SecurityMiddleware",
    "consult.static_files.StaticFiles",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "allauth.account.middleware.AccountMiddleware",
]

ROOT_URLCONF = "consult.urls"
ASGI_APPLICATION = "consult.asgi.application"
WSGI_APPLICATION = "consult.wsgi.application"
APPEND_SLASH = False

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "builtins": ["django.templatetags.i18n"],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "consult.screens.page.account_strip",
                "consult.screens.page.texts",
            ],
        },
    }
]

# One language for the whole installation: texts of checks and alerts are kept in the journal as they were shown.
LANGUAGE_CODE = os.environ.get("LANGUAGE_CODE", "en")
USE_I18N = True
LOCALE_PATHS = [Path(os.environ.get("TEXTS_FOLDER") or BASE_DIR / "consult" / "locale")]
language.take_up(LANGUAGE_CODE, LOCALE_PATHS)
TIME_ZONE = "UTC"
USE_TZ = True

STATIC_URL = "/static/"
# Served straight from the source folders: nothing has to be collected before the first start.
WHITENOISE_USE_FINDERS = True
STATICFILES_DIRS = [("fonts", environment.fonts())]
WHITENOISE_AUTOREFRESH = DEBUG

# ---- people and sessions
AUTH_USER_MODEL = "consult.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "consult.passwords.NoPattern"},
    {"NAME": "consult.passwords.NoOwnName"},
]
LOGIN_URL = "/sign-in/"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "/sign-in/"
ACCOUNT_ADAPTER = "consult.screens.account.Adapter"
ACCOUNT_LOGIN_METHODS = {"username"}
ACCOUNT_SIGNUP_FIELDS = ["username*", "password1*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_SESSION_REMEMBER = None
# Passwords have a patience of their own (actions.sign_in); allauth's is left for the codes of a second factor.
ACCOUNT_RATE_LIMITS = {"login": None, "login_failed": "5/5m/key", "sign_in_link": "30/m/ip"}
# Behind the proxy a sign-in is counted against the address that the proxy names last.
ALLAUTH_TRUSTED_PROXY_COUNT = 1 if HTTPS else 0
MFA_SUPPORTED_TYPES = ["totp", "recovery_codes"]
MFA_TOTP_ISSUER = "Consult board"
SESSION_COOKIE_AGE = 12 * 60 * 60
SESSION_ENGINE = "consult.sessions"
# So named a browser takes a cookie from this very host over HTTPS alone, for all its paths.
HOST_ONLY = "__Host-" if HTTPS else ""
# Browsers share cookies among the ports of one host: each board has a name of its own.
SESSION_COOKIE_NAME = f"{HOST_ONLY}session-{SHORT_NAME}"
CSRF_COOKIE_NAME = f"{HOST_ONLY}csrftoken"
DEVICE_COOKIE_NAME = f"{HOST_ONLY}device-{SHORT_NAME}"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"

# ---- the browser's walls
CONTENT_SECURITY_POLICY = "; ".join(
    [
        "default-src 'none'",
        *(f"{what}-src 'self'" for what in ("script", "style", "connect", "img", "font")),
        "base-uri 'none'",
        "object-src 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        # Not covered by script-src: the crew page is installed by its manifest and works offline.
        "manifest-src 'self'",
        "worker-src 'self'",
    ]
)
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
if HTTPS:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_SSL_REDIRECT = True
    # Programs are refused over plain HTTP (see ApiProblems), the proxy's own probes are let through.
    SECURE_REDIRECT_EXEMPT = [r"^api/", r"^healthz$", r"^readyz$", r"^metrics$"]
    SECURE_HSTS_SECONDS = 365 * 24 * 60 * 60
    SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = True
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = True
    CSRF_TRUSTED_ORIGINS = [f"https://{'*' if host.startswith('.') else ''}{host}" for host in ALLOWED_HOSTS]

# ---- mail: to whom an agency wants to be told that an alert escalates
MAIL = environment.mail(os.environ.get("EMAIL_URL", ""))
EMAIL_HOST, EMAIL_PORT = MAIL.host, MAIL.port
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = MAIL.user, MAIL.password
EMAIL_USE_SSL, EMAIL_USE_TLS = MAIL.over_tls, MAIL.starts_tls
EMAIL_TIMEOUT = 5
DEFAULT_FROM_EMAIL = os.environ.get("EMAIL_FROM") or f"consult-board@{ALLOWED_HOSTS[0].lstrip('.')}"

# ---- REST
MOST_BODY = 256 * 1024  # but for the paths that `consult/service/bodies.py` names; held before Django reads
DATA_UPLOAD_MAX_MEMORY_SIZE = 1_100_000  # of the largest of those, a rule set that a director confirms
HERE = {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "OPTIONS": {"MAX_ENTRIES": 10_000}}
CACHES = {"default": HERE, "allowances": {**HERE, "LOCATION": "allowances"}}
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["api.authentication.TokenOrSession"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_PARSER_CLASSES": ["api.parser.StrictJSONParser"],
    "DEFAULT_RENDERER_CLASSES": ["api.renderer.JSONRenderer"],
    "DEFAULT_CONTENT_NEGOTIATION_CLASS": "api.renderer.OneFormat",
    "DEFAULT_SCHEMA_CLASS": "api.schema.ApiSchema",
    "EXCEPTION_HANDLER": "api.errors.problem_handler",
    "UNAUTHENTICATED_USER": None,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Consult board",
    "DESCRIPTION": "Online medical control for patients in shock during transport. Decision support: local protocol "
    "and the licensed clinician decide.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SCHEMA_PATH_PREFIX": "/api/v1/",
    "PATH_CONVERTER_OVERRIDES": {"id": {"type": "string", "format": "uuid"}},
    "COMPONENT_SPLIT_PATCH": False,
    "ENUM_GENERATE_CHOICE_DESCRIPTION": False,
    "POSTPROCESSING_HOOKS": ["api.schema.plain_words"],
    "ENABLE_DJANGO_DEPLOY_CHECK": False,
}

# ---- background work: all of it is found again from the database, so a lost message costs a second
CELERY_BROKER_URL = environment.celery_broker(REDIS_URL)
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "global_keyprefix": f"consult-{SHORT_NAME}:",
    "visibility_timeout": 30,
    "unacked_restore_interval": 5,
    "unacked_restore_throttle": 1,
    "socket_timeout": 10,
    "socket_connect_timeout": 5,
    "socket_keepalive": True,
    "health_check_interval": 10,
    "retry_on_timeout": True,
}
CELERY_VISIBILITY_TIMEOUT = 30
CELERY_TASK_TIME_LIMIT = 20
CELERY_TASK_SOFT_TIME_LIMIT = 15
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_CANCEL_LONG_RUNNING_TASKS_ON_CONNECTION_LOSS = True
CELERY_WORKER_SOFT_SHUTDOWN_TIMEOUT = 10
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE = {
    # A tick that no worker took in time is worth nothing: the next one does its work.
    "sweep": {"task": "consult.tasks.sweep", "schedule": 1.0, "options": {"expires": 5}},
    "notify": {"task": "consult.tasks.notify", "schedule": 2.0, "options": {"expires": 5}},
    "purge notifications": {
        "task": "consult.tasks.purge_notifications",
        "schedule": 3600.0,
        "options": {"expires": 3000},
    },
    "downtime sheets": {
        "task": "consult.tasks.write_downtime_sheets",
        "schedule": 900.0,
        "options": {"expires": 600},
    },
    "seal": {"task": "consult.tasks.seal", "schedule": 60.0, "options": {"expires": 50}},
    "verify journal": {"task": "consult.tasks.verify_journal", "schedule": 3600.0, "options": {"expires": 3000}},
}

# Levels and places only: what was sent, being about a patient, never enters a log.
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name} {message}", "style": "{"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        "django": {"handlers": ["stderr"], "level": "WARNING", "propagate": False},
        # Refusals are answers, not faults; a server fault is.
        "django.request": {"level": "ERROR"},
        "consult": {"level": "INFO"},
    },
}
