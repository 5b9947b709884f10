"""The wiring: settings, urls, the Celery app. Rules live elsewhere."""

from library.config.celery import app as celery_app

__all__ = ["celery_app"]
