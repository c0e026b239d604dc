"""All settings. The environment alone decides; DEVELOPERS.md lists the variables."""

import json
import secrets
from pathlib import Path
from urllib.parse import urlsplit

from plant.config import environment as env
from plant.config.celery import Every

BASE_DIR = Path(__file__).resolve().parent.parent.parent
DATA_DIR = Path(env.text("DATA_DIR", str(BASE_DIR / ".data")))
DATA_DIR.mkdir(parents=True, exist_ok=True, mode=0o700)

DEBUG = env.flag("DEBUG", False)
TLS = env.flag("TLS", False)
ALLOWED_HOSTS = env.text("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]").split(",")
CSRF_TRUSTED_ORIGINS = [o for o in env.text("TRUSTED_ORIGINS", "").split(",") if o]
# Whose word on where a request came from counts; without it all seem to come from the proxy, and
# one who guesses passwords holds everybody back.
TRUSTED_PROXIES = [each for each in env.text("TRUSTED_PROXIES", "").split(",") if each]
# What stands on labels and sheets, so that a phone finds the depot's machine.
SITE_ADDRESS = env.text("SITE_ADDRESS", "http://localhost:8000")


def _secret_key() -> str:
    """The key from the environment, else one made once and kept beside the data."""
    given = env.text("SECRET_KEY", "")
    if given:
        return given
    kept = DATA_DIR / "secret_key"
    try:
        with kept.open("x", encoding="ascii") as file:
            kept.chmod(0o600)
            file.write(secrets.token_urlsafe(64))
    except FileExistsError:
        pass
    return kept.read_text(encoding="ascii")


SECRET_KEY = _secret_key()
# Signs the checkpoints of the sealed records; outside the database on purpose.
CHECKPOINT_KEY = Path(env.text("CHECKPOINT_KEY", str(DATA_DIR / "checkpoint.key")))
# Where the daily backups lie; better on another disk.
BACKUP_DIR = Path(env.text("BACKUP_DIR", str(DATA_DIR / "backups")))
BACKUPS_KEPT = max(1, env.number("BACKUPS_KEPT", 14))

INSTALLED_APPS = [
    "reports",
    "maintenance",
    "plant",
    "django.forms",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django_htmx",
    "django_tables2",
]

MIDDLEWARE = [
    "plant.http.headers",
    "plant.http.compressed",
    "django.middleware.security.SecurityMiddleware",
    "plant.http.readable",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "plant.http.on_shared_phone",
    "plant.http.unhurried",
    "plant.signed_in.lifetime",
    "plant.http.in_practice",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "plant.http.local_time",
    "plant.http.own_lengths",
]

ROOT_URLCONF = "plant.config.urls"
WSGI_APPLICATION = "plant.config.wsgi.application"
APPEND_SLASH = True

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "plant.http.frame",
            ],
            # All text of all templates is marked for translation, so its tags need no loading.
            "builtins": ["django.templatetags.i18n", "plant.templatetags.quantities"],
        },
    }
]
FORM_RENDERER = "plant.forms.Renderer"

DATABASE_URL = env.text("DATABASE_URL", "")
if DATABASE_URL:
    _database = env.postgres(DATABASE_URL) | {"OPTIONS": {"pool": False}}
else:
    _database = {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": DATA_DIR / "plant.sqlite3",
        "OPTIONS": {
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            # recursive_triggers: without it INSERT OR REPLACE slips past the seal on deletes.
            "init_command": (
                "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;PRAGMA foreign_keys=ON;"
                "PRAGMA recursive_triggers=ON;PRAGMA temp_store=MEMORY;PRAGMA cache_size=-65536"
            ),
        },
    }
DATABASES = {"default": _database | {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "plant.User"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
# What may be a password is told by plant/passwords.py, asked by plant/actions/account.py.
AUTH_PASSWORD_VALIDATORS: list[dict[str, str]] = []
LOGIN_URL = "plant:sign_in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "plant:sign_in"

# The demo shows on the sign-in page who can sign in; never set where real people work.
SIGN_IN_HINT: tuple[tuple[str, str, str], ...] = ()
DEMO = env.flag("DEMO", False)
if DEMO:
    _demo = json.loads((BASE_DIR / "fixtures/demo/people.json").read_text(encoding="utf-8"))
    SIGN_IN_HINT = tuple(
        (row["sign_in"], f"{row['name']}, {row['who']}", _demo["password"])
        for row in _demo["people"]
    )

LANGUAGE_CODE = "en-gb"
# Where translations go; the text in the code is British English, and is shown where none is.
LOCALE_PATHS = [BASE_DIR / "plant/locale"]
USE_I18N = True
TIME_ZONE = "UTC"
USE_TZ = True
DATE_FORMAT = "j M Y"
DATETIME_FORMAT = "j M Y H:i"
TIME_FORMAT = "H:i"
FORMAT_MODULE_PATH = ["plant.formats"]

STATIC_URL = "/static/"
STATIC_ROOT = DATA_DIR / "static"
MEDIA_ROOT = DATA_DIR / "media"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
FILE_UPLOAD_PERMISSIONS = 0o600
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_621_440
DATA_UPLOAD_MAX_NUMBER_FIELDS = 1000
# A check has a place for a photo at each of its questions, and a browser sends the empty ones too;
# its form and the door for phones take six that hold something.
DATA_UPLOAD_MAX_NUMBER_FILES = 16

# --- Cookies and headers: plain names on loopback, __Host- where TLS is on.
SESSION_COOKIE_NAME = "__Host-session" if TLS else "session"
CSRF_COOKIE_NAME = "__Host-csrf" if TLS else "csrf"
# What makes a phone one of the depot's shared phones.
PHONE_COOKIE_NAME = "__Host-phone" if TLS else "phone"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = TLS
SESSION_COOKIE_HTTPONLY = True
CSRF_COOKIE_HTTPONLY = True
CSRF_FAILURE_VIEW = "plant.http.stale_form"
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
# The longest that any session lasts; by role it is shorter: see plant/actions/session.py.
SESSION_COOKIE_AGE = 7 * 24 * 3600
SECURE_SSL_REDIRECT = env.flag("REDIRECT_TO_TLS", TLS)
# Who sets TLS and not this says that the proxy in front sends plain requests over.
SILENCED_SYSTEM_CHECKS = ["security.W008"] if TLS and not SECURE_SSL_REDIRECT else []
SECURE_HSTS_SECONDS = 31_536_000 if TLS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = TLS
SECURE_HSTS_PRELOAD = TLS
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

# --- Mail: by one variable; the demo writes files, so that nothing invented is ever sent.
_mail_url = env.text("MAIL_URL", "folder:" if DEMO else "")
_mail = env.mail(_mail_url)
MAIL_ON = bool(_mail_url)
EMAIL_BACKEND = f"django.core.mail.backends.{_mail.backend}.EmailBackend"
EMAIL_FILE_PATH = DATA_DIR / "mail"
EMAIL_HOST, EMAIL_PORT = _mail.host, _mail.port
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = _mail.user, _mail.password
EMAIL_USE_TLS, EMAIL_USE_SSL = _mail.starttls, _mail.tls
# For each answer of the server; a message takes about eight of them, inside a task's time.
EMAIL_TIMEOUT = 8
DEFAULT_FROM_EMAIL = env.text(
    "MAIL_FROM", f"Site plant <plant@{urlsplit(SITE_ADDRESS).hostname or 'localhost'}>"
)

# --- Background work: an embedded durable queue of files, or Redis by one variable.
CELERY_BROKER_URL = env.text("BROKER_URL", "filesystem://")
if CELERY_BROKER_URL == "filesystem://":
    _queue, _control = DATA_DIR / "queue" / "q", DATA_DIR / "queue" / "ctl"
    for _folder in (_queue, _control):
        _folder.mkdir(parents=True, exist_ok=True)
    CELERY_BROKER_TRANSPORT_OPTIONS: dict[str, object] = {
        "data_folder_in": str(_queue),
        "data_folder_out": str(_queue),
        "control_folder": str(_control),
        "polling_interval": 0.1,
    }
else:
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "visibility_timeout": 3600,
        # Who saves a record must not wait for a broker that is down.
        "socket_connect_timeout": 1,
        "socket_timeout": 5,
    }
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_PUBLISH_RETRY = False
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_SOFT_TIME_LIMIT = 90
CELERY_TASK_TIME_LIMIT = 120
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULER = "plant.timer:Timer"
CELERY_BEAT_SCHEDULE_FILENAME = str(DATA_DIR / "timer")
# What was not begun before its next turn is dropped: a worker that was away finds no heap.
_EACH_MINUTE = {"schedule": Every(60), "options": {"expires": 55}}
CELERY_BEAT_SCHEDULE = {
    "heartbeat": {"task": "plant.tasks.heartbeat", **_EACH_MINUTE},
    "import-leftovers": {"task": "plant.tasks.sweep_imports", **_EACH_MINUTE},
    "sign-chains": {"task": "plant.tasks.sign_chains", **_EACH_MINUTE},
    "read-chains": {"task": "reports.tasks.read_chains", **_EACH_MINUTE},
    "give-missing-plans": {"task": "maintenance.tasks.give_missing_plans", **_EACH_MINUTE},
    "forget-paces": {"task": "maintenance.tasks.forget_paces", "schedule": Every(3600)},
    "keep-times": {"task": "reports.tasks.keep_times", "schedule": Every(3600)},
    "erasure-list": {"task": "reports.tasks.keep_erasure_list", "schedule": Every(3600)},
    "rework-due-dates": {"task": "maintenance.tasks.rework_due_dates", **_EACH_MINUTE},
    "rework-belt-lives": {"task": "maintenance.tasks.rework_belt_lives", **_EACH_MINUTE},
    "readings-leftovers": {"task": "maintenance.tasks.sweep_readings_files", **_EACH_MINUTE},
    "raise-due-work": {"task": "maintenance.tasks.raise_due_work", **_EACH_MINUTE},
    "print-leftovers": {"task": "reports.tasks.sweep_prints", **_EACH_MINUTE},
    "timed-prints": {"task": "reports.tasks.print_by_the_clock", **_EACH_MINUTE},
    "chore": {"task": "reports.tasks.chore_by_the_clock", **_EACH_MINUTE},
    "messages": {"task": "reports.tasks.send_messages", **_EACH_MINUTE},
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"lines": {"()": "plant.logs.JsonLines"}},
    "handlers": {
        "console": {"class": "logging.StreamHandler", "formatter": "lines"},
        "security": {
            "()": "plant.logs.DayFiles",
            "folder": DATA_DIR / "security",
            "formatter": "lines",
        },
    },
    "root": {"handlers": ["console"], "level": env.text("LOG_LEVEL", "INFO")},
    "loggers": {
        # Of plant.security_log, whatever else is told; and what Django itself turned away.
        "security": {"handlers": ["security"], "level": "INFO"},
        "django.security": {"handlers": ["security"], "level": "WARNING"},
        "django.server": {"handlers": ["console"], "propagate": False},
        # The queue of files has no host name, which is not worth a line each minute.
        "kombu.connection": {"level": "ERROR"},
    },
}

DJANGO_TABLES2_TEMPLATE = "table.html"
