"""Sheets that labels are printed on, and what is being printed."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.paper.geometry import LEAST_LABEL_MM, MOST_MM, Geometry
from library.paper.querysets import LabelSheetQuerySet, PrintJobQuerySet


class Kind(models.TextChoices):
    """What can be printed."""

    LABELS = "labels", _("packet labels")
    CARDS = "cards", _("variety cards")
    LOAN_SLIPS = "loan-slips", _("loan slips")
    RETURN_SLIPS = "return-slips", _("return slips")
    SHELF_LIST = "shelf-list", _("shelf list")
    SEASON_SHEET = "season-sheet", _("season sheet")
    NOTICE = "notice", _("wall notice")


class PaperSize(models.TextChoices):
    A4 = "a4", _("A4")
    LETTER = "letter", _("US Letter")


class CardSize(models.TextChoices):
    INDEX = "6x4", _("6 × 4 inch")
    A6 = "a6", _("A6")


def _mm(label, *, least: int = 0, **options) -> models.DecimalField:
    return models.DecimalField(
        label,
        max_digits=6,
        decimal_places=2,
        validators=[MinValueValidator(least), MaxValueValidator(MOST_MM)],
        **options,
    )


class LabelSheet(models.Model):
    """A sheet or roll of labels, as a ruler describes it; lengths in mm."""

    class Shape(models.TextChoices):
        SHEET = "sheet", _("sheet")
        ROLL = "roll", _("roll")

    name = models.CharField(_("name"), max_length=80, unique=True)
    shape = models.CharField(_("shape"), max_length=5, choices=Shape, default=Shape.SHEET)
    page_width = _mm(_("width of the sheet or roll, mm"), least=20)
    page_height = _mm(
        _("height of the sheet, mm"),
        least=20,
        null=True,
        blank=True,
        help_text=_("Of a roll leave it empty: it ends after each row and its gap."),
    )
    columns = models.PositiveSmallIntegerField(
        _("labels across"), default=1, validators=[MinValueValidator(1), MaxValueValidator(20)]
    )
    rows = models.PositiveSmallIntegerField(
        _("labels down"), default=1, validators=[MinValueValidator(1), MaxValueValidator(40)]
    )
    label_width = _mm(_("width of a label, mm"), least=LEAST_LABEL_MM[0])
    label_height = _mm(_("height of a label, mm"), least=LEAST_LABEL_MM[1])
    left = _mm(_("from the left edge to the first label, mm"), default=0)
    top = _mm(_("from the upper edge to the first label, mm"), default=0)
    gap_x = _mm(_("gap between columns, mm"), default=0)
    gap_y = _mm(_("gap between rows, mm"), default=0)
    outlined = models.BooleanField(
        _("draw a line around each"), default=False, help_text=_("For paper that is cut.")
    )
    is_default = models.BooleanField(_("use it unless another is named"), default=False)

    objects = LabelSheetQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                fields=["is_default"],
                condition=Q(is_default=True),
                name="label_sheet_one_default",
            ),
            models.CheckConstraint(
                condition=Q(shape="sheet", page_height__isnull=False)
                | Q(shape="roll", page_height=None, rows=1),
                name="label_sheet_has_a_height_unless_a_roll",
            ),
            models.CheckConstraint(
                condition=Q(columns__range=(1, 20), rows__range=(1, 40)),
                name="label_sheet_has_labels",
            ),
            models.CheckConstraint(
                condition=Q(label_width__gte=38, label_height__gte=19)
                & Q(label_width__lte=F("page_width")),
                name="label_sheet_label_is_big_enough",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("label-sheet-edit", args=[self.pk])

    @property
    def geometry(self) -> Geometry:
        height = self.page_height
        if height is None:
            height = self.top + self.label_height + self.gap_y
        return Geometry(
            page_width=float(self.page_width),
            page_height=float(height),
            columns=self.columns,
            rows=self.rows,
            label_width=float(self.label_width),
            label_height=float(self.label_height),
            left=float(self.left),
            top=float(self.top),
            gap_x=float(self.gap_x),
            gap_y=float(self.gap_y),
            outlined=self.outlined,
        )


class PrintJob(models.Model):
    """Many labels or cards, made in the background; the file waits some days to be fetched.

    ``given`` is what was asked: the keys of the rows, the geometry, the day it is made for.
    ``made`` of ``total`` says how far it is.
    """

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting")
        WORKING = "working", _("being made")
        DONE = "done", _("done")
        STOPPED = "stopped", _("stopped")
        FAILED = "failed", _("failed")

    identifier = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    kind = models.CharField(max_length=20, choices=Kind)
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="print_jobs"
    )
    asked_at = models.DateTimeField(default=timezone.now)
    given = models.JSONField(default=dict)
    digest = models.CharField(max_length=64)
    language = models.CharField(max_length=10, default="en")
    total = models.PositiveIntegerField(default=0)
    made = models.PositiveIntegerField(default=0)
    worker = models.CharField(max_length=80, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    heard_at = models.DateTimeField(null=True, blank=True)  # a sign of life of its worker
    stop_asked_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    content = models.BinaryField(null=True)
    trouble = models.TextField(blank=True)

    objects = PrintJobQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["asked_by", "digest"],
                condition=Q(state__in=["waiting", "working"]),
                name="print_job_asked_twice_is_one",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["waiting", "working"], finished_at=None)
                | Q(state__in=["done", "stopped", "failed"], finished_at__isnull=False),
                name="print_job_ended_has_a_time",
            ),
            models.CheckConstraint(
                condition=(Q(state="done") & Q(content__isnull=False))
                | (~Q(state="done") & Q(content=None)),
                name="print_job_done_has_a_file",
            ),
        ]

    def __str__(self) -> str:
        return f"print job {self.pk}"

    def get_absolute_url(self) -> str:
        return reverse("print-job", args=[self.identifier])

    @property
    def is_at_work(self) -> bool:
        return self.state in (self.State.WAITING, self.State.WORKING)

    @property
    def percent(self) -> int:
        return 0 if not self.total else min(99, 100 * self.made // self.total)

    @property
    def file_name(self) -> str:
        return f"{self.kind}-{self.asked_at:%Y-%m-%d}.pdf"
