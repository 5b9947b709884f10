"""The Celery app of served mode; embedded mode calls the same task functions in place.

Beat asks often and the table of last runs decides (``library.outbox.periodic``), so two beats
do no harm, and a job that was missed while beat was away is made good at once.
"""

from __future__ import annotations

import os

from celery import Celery

from library.config.schedule import JOBS

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "library.config.settings")

LONGEST_PAUSE = 60.0  # seconds between two questions whether a job is due

app = Celery("sowback")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.conf.beat_schedule = {
    job.name: {
        "task": "library.config.tasks.run_periodic",
        "args": [job.name],
        "schedule": (pause := min(job.every.total_seconds(), LONGEST_PAUSE)),
        "options": {"expires": pause},  # what waited longer is asked again anyway
    }
    for job in JOBS
}
app.autodiscover_tasks()
