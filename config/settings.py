"""Settings, read from the environment; the defaults serve a newcomer without any server."""

from pathlib import Path
from typing import Any

import environ
from csp.constants import NONE, SELF

from config.logs import logging_settings
from config.secret_key import secret_key
from registry.signing_in.providers import provider_settings

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.Env()

VAR_DIR = Path(env("RISERBOOK_VAR_DIR", default=str(BASE_DIR / "var")))
VAR_DIR.mkdir(parents=True, exist_ok=True)

DEBUG = env.bool("DEBUG", default=False)
SECRET_KEY = secret_key(env("SECRET_KEY", default=""), VAR_DIR)
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])
PUBLIC_URL = env("PUBLIC_URL", default="http://localhost:8000").rstrip("/")
IS_HTTPS = PUBLIC_URL.startswith("https://")

INSTALLED_APPS = [
    "registry",
    "scheduling",
    "reports",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django_tables2",
    "django_filters",
    "django_htmx",
    "csp",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "allauth.socialaccount",
    "allauth.socialaccount.providers.openid_connect",
]

MIDDLEWARE = [
    "registry.serving.request_log.RequestLog",
    "django.middleware.security.SecurityMiddleware",
    # Django's adds bytes of random length to what it compresses, so that the length of a page
    # tells nothing of the secrets in it (BREACH); the token in a form changes with each page too.
    "django.middleware.gzip.GZipMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "registry.signing_in.sessions.SessionLimits",
    "allauth.account.middleware.AccountMiddleware",
    "registry.serving.language.ReadersLanguage",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "registry.signing_in.demand.SecondStepFirst",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
            "builtins": [
                "django.templatetags.i18n",
                "registry.templatetags.spoken",
                "django_htmx.templatetags.django_htmx",
            ],
        },
    }
]

SQLITE_OPTIONS = {
    "timeout": 20,
    # A transaction that reads first and writes later cannot be upgraded under WAL when another
    # writer came between; taking the write lock at its start is what makes two writers safe.
    "transaction_mode": "IMMEDIATE",
    "init_command": (
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;"
        "PRAGMA mmap_size=134217728; PRAGMA cache_size=-8000;"
    ),
}
DATABASES = {
    "default": env.db("DATABASE_URL", default=f"sqlite:///{VAR_DIR / 'riserbook.sqlite3'}")
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    DATABASES["default"]["OPTIONS"] = SQLITE_OPTIONS
else:
    DATABASES["default"]["CONN_MAX_AGE"] = env.int("DATABASE_CONN_MAX_AGE", default=60)
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

REDIS_URL = env("REDIS_URL", default="")
CACHES = {
    "default": (
        {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": REDIS_URL}
        if REDIS_URL
        # One count for all processes: here lie the limits of the accounts library.
        else {
            "BACKEND": "django.core.cache.backends.db.DatabaseCache",
            "LOCATION": "registry_cache",
            "OPTIONS": {"MAX_ENTRIES": 20_000},
        }
    ),
    # Pictures are kept by what they show, so none is ever out of date.
    "pictures": (
        {
            "BACKEND": "django.core.cache.backends.redis.RedisCache",
            "LOCATION": REDIS_URL,
            "KEY_PREFIX": "pictures",
        }
        if REDIS_URL
        else {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "LOCATION": "pictures"}
    ),
}

AUTH_USER_MODEL = "registry.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "reports:portfolio"
LOGOUT_REDIRECT_URL = "account_login"
REFUSED_PASSWORDS_FILE = env("REFUSED_PASSWORDS_FILE", default="")
AUTH_PASSWORD_VALIDATORS: list[dict[str, Any]] = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
     "OPTIONS": {"user_attributes": ("name", "email")}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "registry.signing_in.passwords.BookWords"},
]  # fmt: skip
if REFUSED_PASSWORDS_FILE:
    AUTH_PASSWORD_VALIDATORS.append(
        {
            "NAME": "registry.signing_in.passwords.RefusedList",
            "OPTIONS": {"path": REFUSED_PASSWORDS_FILE},
        }
    )

# Sessions: a day of work without a break, and signed in anew each week.
SESSION_IDLE_S = env.int("SESSION_IDLE_MINUTES", default=12 * 60) * 60
SESSION_LONGEST_S = env.int("SESSION_LONGEST_HOURS", default=7 * 24) * 3600
PROVE_AGAIN_S = env.int("PROVE_AGAIN_MINUTES", default=15) * 60
SESSION_COOKIE_AGE = SESSION_IDLE_S

ACCOUNT_ADAPTER = "registry.signing_in.adapters.AccountAdapter"
ACCOUNT_FORMS = {
    "login": "registry.forms.sign_in.SignInForm",
    "change_password": "registry.forms.sign_in.ChangePasswordForm",
    "set_password": "registry.forms.sign_in.SetPasswordForm",
    "reset_password": "registry.forms.sign_in.ForgottenForm",
    "reset_password_from_key": "registry.forms.sign_in.NewPasswordForm",
    "reauthenticate": "registry.forms.sign_in.ProveForm",
}
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_SIGNUP_ENABLED = False
ACCOUNT_EMAIL_VERIFICATION = "none"  # whoever is invited has shown that the address is theirs
ACCOUNT_EMAIL_NOTIFICATIONS = True
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_REAUTHENTICATION_METHODS = {"password", "mfa"}
ACCOUNT_REAUTHENTICATION_TIMEOUT = PROVE_AGAIN_S
ACCOUNT_REAUTHENTICATION_REQUIRED = True
# Wrong passwords are counted by the book (registry/signing_in/attempts.py); these are all the rest.
ACCOUNT_RATE_LIMITS = {
    "login": "60/m/ip",
    "login_failed": "30/m/ip,5/5m/key",  # codes of the second step
    "reset_password": "20/h/ip,3/h/key",
    "reset_password_from_key": "20/m/ip",
    "reauthenticate": "10/m/user",
}
ACCOUNT_DEFAULT_HTTP_PROTOCOL = "https" if IS_HTTPS else "http"
PASSWORD_RESET_TIMEOUT = 2 * 60 * 60
MFA_ADAPTER = "registry.signing_in.adapters.SecondStepAdapter"
MFA_FORMS = {
    "authenticate": "registry.forms.second_step.CodeForm",
    "reauthenticate": "registry.forms.second_step.ProveByCodeForm",
    "activate_totp": "registry.forms.second_step.AppForm",
    "add_webauthn": "registry.forms.second_step.PasskeyForm",
    "edit_webauthn": "registry.forms.second_step.PasskeyNameForm",
}
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
MFA_ALLOW_UNVERIFIED_EMAIL = True
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = not IS_HTTPS  # browsers allow it on localhost alone
USERSESSIONS_ADAPTER = "registry.signing_in.adapters.SessionsAdapter"
SOCIALACCOUNT_ADAPTER = "registry.signing_in.adapters.OutsideAdapter"
SOCIALACCOUNT_EMAIL_VERIFICATION = "none"
SOCIALACCOUNT_EMAIL_AUTHENTICATION_AUTO_CONNECT = True
SOCIALACCOUNT_STORE_TOKENS = False
SOCIALACCOUNT_PROVIDERS = provider_settings(
    {
        name: env(name, default="")
        for name in ("OIDC_SERVER_URL", "OIDC_CLIENT_ID", "OIDC_CLIENT_SECRET", "OIDC_NAME")
    }
)

# Every text is marked; a language is a line here and its catalogue under `locale`. Whoever reads
# gets their own; what is stored, hashed or read by machines stays in the language of LANGUAGE_CODE.
LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en-gb", "English"), ("es", "Español")]
LOCALE_PATHS = [BASE_DIR / "locale"]
TIME_ZONE = "UTC"
USE_TZ = True

STATIC_URL = "static/"
BUILT_STATIC_DIR = Path(env("BUILT_STATIC_DIR", default=str(BASE_DIR / "static-built")))
BUILT_STATIC_DIR.mkdir(parents=True, exist_ok=True)
STATICFILES_DIRS = [BUILT_STATIC_DIR]
STATIC_ROOT = Path(env("STATIC_ROOT", default=str(VAR_DIR / "static")))
# Until files were collected they are served from where they lie, so that sign-in works at once.
STATIC_MANIFEST = env.bool(
    "STATIC_MANIFEST", default=not DEBUG and (STATIC_ROOT / "staticfiles.json").is_file()
)
STATIC_ROOT.mkdir(parents=True, exist_ok=True)
WHITENOISE_USE_FINDERS = not STATIC_MANIFEST
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": (
            "whitenoise.storage.CompressedManifestStaticFilesStorage"
            if STATIC_MANIFEST
            else "django.contrib.staticfiles.storage.StaticFilesStorage"
        )
    },
}
MEDIA_ROOT = VAR_DIR / "media"  # outside the web root: files are served by views that check access
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = IS_HTTPS
if IS_HTTPS:  # a browser takes these names from this host alone, and with the whole of its paths
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-sessionid", "__Host-csrf"
SECURE_SSL_REDIRECT = IS_HTTPS and env.bool("SECURE_SSL_REDIRECT", default=True)
SECURE_REDIRECT_EXEMPT = [r"^(health|ready|metrics)/$"]  # asked for from inside, without https
SECURE_HSTS_SECONDS = env.int("SECURE_HSTS_SECONDS", default=31_536_000 if IS_HTTPS else 0)
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = IS_HTTPS
ALLAUTH_TRUSTED_PROXY_COUNT = 0
if env.bool("BEHIND_PROXY", default=False):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    ALLAUTH_TRUSTED_PROXY_COUNT = env.int("PROXIES", default=1)  # whose X-Forwarded-For is believed

DJANGO_TABLES2_TEMPLATE = "registry/_table.html"

# Without a mail server each mail is a file, which the outbox page shows.
EMAIL_FOLDER = VAR_DIR / "outbox"
if env("EMAIL_URL", default=""):
    vars().update(env.email_url("EMAIL_URL"))
else:
    EMAIL_BACKEND = "scheduling.messages.folder.FolderBackend"
EMAIL_TIMEOUT = 20  # seconds for each step; a whole mail stays far below the lease of a claim
# A PKCS#12 file that signs every PDF; without one none is signed.
REPORT_SIGNING_KEY = env("REPORT_SIGNING_KEY", default="")
REPORT_SIGNING_PASSWORD = env("REPORT_SIGNING_PASSWORD", default="")

DEFAULT_FROM_EMAIL = env("DEFAULT_FROM_EMAIL", default="riserbook@averhythe.example")

# News is posted only to public addresses; a book and its listeners on one closed network say so.
WEBHOOKS_ALLOW_PRIVATE = env.bool("WEBHOOKS_ALLOW_PRIVATE", default=False)

# The rows are the queue; a message only wakes a worker, so none needs to be kept or repeated.
CELERY_BROKER_URL = env("CELERY_BROKER_URL", default=REDIS_URL or "memory://")
CELERY_TASK_IGNORE_RESULT = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_WORKER_HIJACK_ROOT_LOGGER = False  # it writes the same log as everybody
CELERY_TIMEZONE = "UTC"
SWEEP_PARTS = env.int("SWEEP_PARTS", default=1)  # as many as there are workers for it

LOGGING = logging_settings(
    level=env("LOG_LEVEL", default="INFO"),
    form=env("LOG_FORMAT", default="line"),
    file=env("LOG_FILE", default=""),
)

METRICS_TOKEN = env("METRICS_TOKEN", default="")  # without one there are no metrics to be had
BACKUP_DIR = Path(env("BACKUP_DIR", default=str(VAR_DIR / "backups")))
BACKUPS_KEPT = env.int("BACKUPS_KEPT", default=7)
