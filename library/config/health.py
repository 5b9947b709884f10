"""`/healthz`: for the machine that watches this one."""

from __future__ import annotations

from django.db import Error, connection
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from library.outbox.models import Message, Periodic


@require_safe
@never_cache
def health(request: HttpRequest) -> JsonResponse:
    """200 while the database answers; how long ago mail was last swept, in seconds."""
    try:
        return JsonResponse({"database": "ok", **_background()})
    except Error:
        connection.close()
        return JsonResponse({"database": "unreachable"}, status=503)


def _background() -> dict:
    swept = Periodic.objects.filter(name="sweep outbox").first()
    last = swept and swept.last_run_at
    age = round((timezone.now() - last).total_seconds()) if last else None
    return {"last_sweep_seconds_ago": age, "mail_waiting": Message.objects.waiting().count()}
