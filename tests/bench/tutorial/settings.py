"""Settings of the tutorial project, as its tutorials have them."""

import os

import dj_database_url

from tests.bench import places

SECRET_KEY = "benchmark"
ALLOWED_HOSTS = ["*"]
INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "rest_framework",
    "rest_framework.authtoken",
    "channels",
    "tests.bench.tutorial.readings",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
]
ROOT_URLCONF = "tests.bench.tutorial.urls"
ASGI_APPLICATION = "tests.bench.tutorial.asgi.application"
DATABASES = {"default": dj_database_url.parse(os.environ["TUTORIAL_DATABASE"])}
CHANNEL_LAYERS = {"default": {"BACKEND": "channels_redis.core.RedisChannelLayer", "CONFIG": {"hosts": [places.REDIS]}}}
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.TokenAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
USE_TZ = True
