"""Every address of the site, gathered from the apps."""

from __future__ import annotations

from django.contrib import admin
from django.urls import include, path
from rest_framework.routers import DefaultRouter

import accounts.urls
import library.album.urls
import library.calendars.urls
import library.cardbox.urls
import library.catalogue.urls
import library.exchange.urls
import library.firstday.urls
import library.germination.urls
import library.growouts.urls
import library.household.urls
import library.lending.urls
import library.paper.urls
import library.provenance.urls
import library.reminders.urls
import library.stock.urls
from library.config import style, views
from library.config.described import SchemaView
from library.config.health import health
from library.config.metrics import metrics

APPS = [
    accounts.urls,
    library.catalogue.urls,
    library.stock.urls,
    library.germination.urls,
    library.provenance.urls,
    library.lending.urls,
    library.growouts.urls,
    library.exchange.urls,
    library.household.urls,
    library.paper.urls,
    library.firstday.urls,
    library.cardbox.urls,
    library.album.urls,
    library.reminders.urls,
    library.calendars.urls,
]

router = DefaultRouter()
for app in APPS:
    for prefix, viewset, basename in app.resources:
        router.register(prefix, viewset, basename=basename)

urlpatterns = [
    path("", views.HomePage.as_view(), name="home"),
    path("favicon.ico", views.Favicon.as_view(), name="favicon"),
    path("healthz", health, name="health"),
    path("metrics", metrics, name="metrics"),
    path("style/", style.StylePage.as_view(), name="style"),
    *[pattern for app in APPS for pattern in app.pages],
    path("account/", include("allauth.urls")),
    path("api/schema/", SchemaView.as_view(), name="api-schema"),
    path("api/", include(router.urls)),
    *[pattern for app in APPS for pattern in app.endpoints],
    path("admin/", admin.site.urls),
]

handler404 = "library.config.errors.not_found"
