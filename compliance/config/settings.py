"""All settings, each from one environment variable or a constant. The table of variables is in DEVELOPERS.md."""

from pathlib import Path
from urllib.parse import urlsplit

from alarms.conditions import ConditionClass
from alarms.dispositions import DispositionType
from compliance.config.environment import Environment

env = Environment()
ROOT = Path(__file__).resolve().parents[2]

# What a run keeps: database, mail, broker and exports of the embedded mode. Ignored by git.
DATA_DIR = Path(env.text("DATA_DIR", str(ROOT / ".data")))
DATA_DIR.mkdir(parents=True, exist_ok=True)

REDIS_URL = env.url("REDIS_URL", schemes=("redis", "rediss"), example="redis://host:6379/0")
EMBEDDED = not env.text("DATABASE_URL")

# Links in mails start with it, and its scheme decides whether cookies and redirects insist on TLS.
PUBLIC_URL = env.url(
    "PUBLIC_URL",
    schemes=("http", "https"),
    example="https://fuel.example.org",
    default="https://localhost",
    host=True,
).rstrip("/")
_public = urlsplit(PUBLIC_URL)
_over_tls = _public.scheme == "https"

DEBUG = env.flag("DEBUG", default=False)
SECRET_KEY = env.secret("SECRET_KEY", kept_in=DATA_DIR / "secret_key" if EMBEDDED else None)
ALLOWED_HOSTS = env.words("ALLOWED_HOSTS") or [_public.hostname or "localhost"]
CSRF_TRUSTED_ORIGINS = [f"{_public.scheme}://{_public.netloc}"]

INSTALLED_APPS = [
    "django.contrib.staticfiles",
    "rest_framework",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "equipment",
    "alarms",
    "compliance",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "compliance.waking.WakeJudging",
]

ROOT_URLCONF = "compliance.config.urls"
WSGI_APPLICATION = "compliance.config.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {"context_processors": ["django.template.context_processors.request"]},
    }
]

# --- data --------------------------------------------------------------------------------------------------
# IMMEDIATE: a transaction that will write takes the write lock at its start. With the deferred default a reader that
# turns writer fails at once, whatever the timeout; measured, half of all contended writes were lost that way.
SQLITE_OPTIONS = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;",
}
DATABASES = {
    "default": env.database(
        "DATABASE_URL",
        default=f"sqlite:///{DATA_DIR / 'register.sqlite3'}",
        conn_max_age=60,
        conn_health_checks=True,
    )
}
if "sqlite" in DATABASES["default"]["ENGINE"]:
    DATABASES["default"] |= {"OPTIONS": SQLITE_OPTIONS, "CONN_MAX_AGE": 0}
    # A file, not memory: an in-memory database would hide every locking fault.
    DATABASES["default"]["TEST"] = {"NAME": str(DATA_DIR / "test.sqlite3")}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
CACHES = {
    "default": {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": REDIS_URL}
    if REDIS_URL
    else {
        "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
        "LOCATION": str(DATA_DIR / "cache"),
    }
}

# --- time and words: stored and computed in UTC; each facility has a zone of its own -----------------------
USE_TZ = True
TIME_ZONE = "UTC"
LANGUAGE_CODE = "en-us"
USE_I18N = False

# --- files -------------------------------------------------------------------------------------------------
STATIC_URL = "static/"
# Served straight from the installed packages: nothing to collect, nothing to forget.
STATIC_ROOT = None
WHITENOISE_USE_FINDERS = True
STORAGES = {
    "default": {"BACKEND": "equipment.storage.WholeFiles"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
# Attachments. Web hosts share this folder; it has no address of its own: each file is answered by a view that asks who.
MEDIA_ROOT = DATA_DIR / "attachments"
# One request body at most; a larger one is refused before it is read.
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 1024 * 1024

# --- mail --------------------------------------------------------------------------------------------------
MAIL_FROM = DEFAULT_FROM_EMAIL = SERVER_EMAIL = env.text(
    "MAIL_FROM", f"alarms@{_public.hostname or 'localhost'}"
)
_smtp = env.smtp("SMTP_URL")
EMAIL_BACKEND = f"django.core.mail.backends.{'smtp' if _smtp else 'filebased'}.EmailBackend"
EMAIL_FILE_PATH = str(DATA_DIR / "mail")
globals().update(_smtp)

# --- tasks: a message only says "drain"; the tables are the queue, so a lost message costs a minute ------------------
BROKER_FOLDER = DATA_DIR / "broker"
# The host means nothing to the filesystem transport; without one kombu warns at every connection.
CELERY_BROKER_URL = REDIS_URL or "filesystem://localhost"
CELERY_BROKER_TRANSPORT_OPTIONS: dict[str, object] = {
    # The sweep that hands out a killed worker's message runs every interval x throttle seconds (100 by default).
    "visibility_timeout": 600,
    "unacked_restore_interval": 10,
    "unacked_restore_throttle": 1,
    "socket_timeout": 1,
    "socket_connect_timeout": 1,
}
if not REDIS_URL:
    BROKER_FOLDER.mkdir(exist_ok=True)
    (BROKER_FOLDER / "processed").mkdir(exist_ok=True)
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "data_folder_in": str(BROKER_FOLDER),
        "data_folder_out": str(BROKER_FOLDER),
        "processed_folder": str(BROKER_FOLDER / "processed"),
        "control_folder": str(BROKER_FOLDER / "control"),
        "polling_interval": 0.1,
    }
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_SOFT_TIME_LIMIT = 240
CELERY_TASK_TIME_LIMIT = 300
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_ENABLE_REMOTE_CONTROL = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BEAT_SCHEDULE_FILENAME = str(DATA_DIR / "beat-schedule")

# --- transport security ------------------------------------------------------------------------------------
SECURE_PROXY_SSL_HEADER = (
    ("HTTP_X_FORWARDED_PROTO", "https") if env.flag("BEHIND_PROXY", default=False) else None
)
SECURE_SSL_REDIRECT = _over_tls
SECURE_HSTS_SECONDS = 31_536_000 if _over_tls else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = _over_tls
CSRF_COOKIE_SECURE = _over_tls
X_FRAME_OPTIONS = "DENY"

# --- rules: the packs that a facility may name; a folder each (tests/guards compares with what is loaded) ----------
JURISDICTIONS = sorted(
    folder.name.replace("_", "-")
    for folder in (ROOT / "compliance" / "rulepacks").iterdir()
    if any(folder.glob("*.toml"))
)

# --- API ---------------------------------------------------------------------------------------------------
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["equipment.api.authentication.KeyAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["equipment.api.parsers.StrictJSONParser"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_PAGINATION_CLASS": "equipment.api.paging.NewestFirst",
    "DEFAULT_THROTTLE_CLASSES": ["equipment.api.throttling.KeyThrottle"],
    "DEFAULT_THROTTLE_RATES": {"key": env.rate("API_RATE", default="6000/min")},
    "EXCEPTION_HANDLER": "equipment.api.problems.answer_problem",
    "UNAUTHENTICATED_USER": None,
    "COERCE_DECIMAL_TO_STRING": False,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Marina fuel compliance",
    "VERSION": "1",
    "DESCRIPTION": (
        "State facts about tanks and what was observed at them; read what the rules say and who was told.\n\n"
        "A request that is repeated under its `Idempotency-Key` changes nothing and is answered as before for 90 days; "
        "after that it still changes nothing, and is refused with the problem `answer-no-longer-kept` (409)."
    ),
    "OAS_VERSION": "3.1.1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "COMPONENT_SPLIT_REQUEST": True,
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "SWAGGER_UI_SETTINGS": {"persistAuthorization": True, "validatorUrl": None},
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "equipment.api.schema.name_headers",
        "equipment.api.schema.share_problems",
    ],
    # One name a list of words, the same wherever the list is used.
    "ENUM_NAME_OVERRIDES": {
        f"{name}Word": f"equipment.vocabulary.{name}"
        for name in (
            "AccessRole",
            "ChartSource",
            "DispenserPlace",
            "Kind",
            "KeyRole",
            "Outcome",
            "ProtectionSystem",
            "SumpPlace",
            "TankMethod",
            "TankProtection",
            "Wall",
        )
    }
    | {
        "FindingTypeWord": "equipment.fact_vocabulary.FindingType",
        "SiteEventTypeWord": "equipment.fact_vocabulary.SiteEventType",
        "ConditionClassWord": [*ConditionClass],
        "DispositionTypeWord": [*DispositionType],
        "StandingWord": "compliance.models.StandingWord",
        "AnyStandingWord": "compliance.api.obligations.ANY_STANDING",
    },
}

# --- logs --------------------------------------------------------------------------------------------------
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"()": "compliance.config.logs.JSONLines"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": env.level("LOG_LEVEL", default="INFO")},
}

env.finish()
