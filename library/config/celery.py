"""The Celery app of served mode; embedded mode calls the same task functions in place."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "library.config.settings")

app = Celery("sowback")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
