"""The member's page about the calendar, and the calendar itself."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.core.cache import cache
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse, reverse_lazy
from django.utils import timezone, translation
from django.utils.cache import get_conditional_response, patch_cache_control
from django.utils.decorators import method_decorator
from django.utils.http import quote_etag
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.generic import TemplateView, View

from accounts.access import MemberPage, MemberRequest
from accounts.models import Community
from accounts.views.answering import ServiceForm, say
from library.calendars import services
from library.calendars.forms import ChoicesForm
from library.calendars.ics import PRODID, write_calendar
from library.calendars.models import Entry, Feed
from library.errors import Refused

MOST_READINGS, PER_SECONDS = 30, 60


class OwnCalendar(MemberPage):
    def feed(self) -> Feed | None:
        return Feed.objects.filter(member=self.request.user).first()

    def choices(self, feed: Feed | None) -> ChoicesForm | None:
        return ChoicesForm(instance=feed, member=self.request.user) if feed else None


@method_decorator(never_cache, name="dispatch")
class CalendarPage(OwnCalendar, TemplateView):
    """The address is shown in the answer that made it, only."""

    template_name = "calendars/calendar.html"

    def get_context_data(self, **kwargs) -> dict:
        feed = self.feed()
        context = {"feed": feed, "form": self.choices(feed)} | kwargs
        return super().get_context_data(
            kept_days=services.CANCELLED_FOR.days, url_name="account-calendar", **context
        )

    def post(self, request: MemberRequest) -> HttpResponse:
        _feed, secret = services.make_feed(member=request.user)
        address = settings.SITE_URL + reverse("calendar-file", args=[secret])
        webcal = "webcal" + address.removeprefix("https").removeprefix("http")
        return self.render_to_response(self.get_context_data(address=address, webcal=webcal))


class ChoicesPage(OwnCalendar, ServiceForm):
    http_method_names = ["post", "options"]
    template_name = "calendars/calendar.html"
    form_class = ChoicesForm
    success_url = reverse_lazy("account-calendar")
    done = _("Saved.")

    def get_form_kwargs(self) -> dict:
        feed = self.feed() or Feed(member=self.request.user)
        return super().get_form_kwargs() | {"instance": feed, "member": self.request.user}

    def get_context_data(self, **kwargs) -> dict:
        return super().get_context_data(
            feed=self.feed(), kept_days=services.CANCELLED_FOR.days, **kwargs
        )

    def act(self, form: ChoicesForm) -> None:
        chosen = {"with_role": form.instance.with_role} | form.cleaned_data
        services.choose(member=self.request.user, **chosen)


class RevokePage(MemberPage, View):
    http_method_names = ["post", "options"]

    def post(self, request: MemberRequest) -> HttpResponse:
        try:
            services.revoke_feed(member=request.user)
        except Refused as error:
            say(request, error)
        else:
            messages.success(request, _("The address leads nowhere any more."))
        return redirect("account-calendar")


class CalendarFile(View):
    """The calendar of whoever's address this is: no cookie, no signing in, a secret address."""

    http_method_names = ["get", "head", "options"]

    def get(self, request: HttpRequest, secret: str) -> HttpResponse:
        feed = services.feed_of(secret)
        if feed is None:
            raise Http404
        if _is_too_often(feed):
            return _later()
        now = timezone.now()
        services.bring_up_to_date(feed=feed, now=now)
        name, about = _named(feed)
        etag = _etag(feed, name, about)
        answer = get_conditional_response(request, etag=etag) or HttpResponse(
            write_calendar(
                Entry.objects.of(feed.member).in_order(),
                name=name,
                about=about,
                site=settings.SITE_URL,
                style=feed.style,
            ),
            content_type="text/calendar; charset=utf-8",
            headers={"Content-Disposition": 'inline; filename="due.ics"'},
        )
        answer["ETag"] = etag
        answer["X-Robots-Tag"] = "noindex"
        patch_cache_control(
            answer, private=True, max_age=int(services.COMPARED_EVERY.total_seconds())
        )
        return answer


def _named(feed: Feed) -> tuple[str, str]:
    """The calendar's name, and a word about it, in the reader's language."""
    library = Community.current().name
    with translation.override(services.language_of(feed.member)):
        name = _("%(library)s: what is due") % {"library": library}
        return name, _("What is due for you. Each entry leads to where it can be done.")


def _etag(feed: Feed, *words: str) -> str:
    """Of all that the file is written from, so that it need not be written to be compared."""
    state = Entry.objects.of(feed.member).state()
    parts = [PRODID, settings.SITE_URL, feed.style, *words, *map(str, state.values())]
    return quote_etag(services.digest_of("\n".join(parts))[:32])


def _is_too_often(feed: Feed) -> bool:
    key = f"calendar:{feed.pk}"
    if cache.add(key, 1, PER_SECONDS):
        return False
    try:
        return cache.incr(key) > MOST_READINGS
    except ValueError:  # the minute ended between the two questions
        return False


def _later() -> HttpResponse:
    answer = HttpResponse(
        _("This calendar was read too often. Read it again in a minute.") + "\n",
        status=429,
        content_type="text/plain; charset=utf-8",
    )
    answer["Retry-After"] = str(PER_SECONDS)
    return answer
