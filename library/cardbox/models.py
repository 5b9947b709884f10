"""A file that was brought in, its rows and what becomes of each, and what has to be asked."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from library.cardbox.querysets import CardImportQuerySet, CardRowQuerySet


class Kind(models.TextChoices):
    VARIETIES = "varieties", gettext_lazy("varieties")
    LOTS = "lots", gettext_lazy("lots")
    MEMBERS = "members", gettext_lazy("members")
    LOANS = "loans", gettext_lazy("past loans")


class CardImport(models.Model):
    """One file: read, looked at, decided, written; and perhaps undone.

    Nothing but rows of this app is written before somebody confirms. ``columns`` says which
    column holds what, how the file writes days and numbers, and what was decided for all rows.
    """

    class State(models.TextChoices):
        COLUMNS = "columns", gettext_lazy("waits for a look at its columns")
        LOOKING = "looking", gettext_lazy("is being looked at")
        READY = "ready", gettext_lazy("waits for a yes")
        WRITING = "writing", gettext_lazy("is being written")
        STOPPED = "stopped", gettext_lazy("was stopped half-way")
        WRITTEN = "written", gettext_lazy("was written")
        UNDOING = "undoing", gettext_lazy("is being undone")
        UNDONE = "undone", gettext_lazy("was undone")
        LEFT = "left", gettext_lazy("was left")
        FAILED = "failed", gettext_lazy("could not be worked on")

    kind = models.CharField(max_length=10, choices=Kind)
    state = models.CharField(max_length=10, choices=State, default=State.COLUMNS)
    file_name = models.CharField(max_length=200)
    digest = models.CharField(max_length=64)
    content = models.BinaryField(null=True)  # dropped when it is not needed any more
    told = models.JSONField(default=dict)  # how the file is read
    headings = models.JSONField(default=list)
    sample = models.JSONField(default=list)
    columns = models.JSONField(default=dict)
    rows_in_file = models.PositiveIntegerField(default=0)
    brought_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    brought_at = models.DateTimeField(default=timezone.now)
    confirmed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    confirmed_at = models.DateTimeField(null=True)
    confirmed_on = models.DateField(null=True)
    finished_at = models.DateTimeField(null=True)
    undone_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    undone_on = models.DateField(null=True)
    stop_asked_at = models.DateTimeField(null=True)
    worker = models.CharField(max_length=80, blank=True)
    heard_at = models.DateTimeField(null=True)
    trouble = models.JSONField(default=dict)

    objects = CardImportQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=Kind.values), name="card_import_kind_is_known"
            ),
            models.CheckConstraint(
                condition=Q(confirmed_at__isnull=False)
                | Q(state__in=["columns", "looking", "ready", "left", "failed"]),
                name="card_import_is_written_once_confirmed",
            ),
        ]
        indexes = [
            # The same file brought in again.
            models.Index(fields=["digest"], name="card_import_digest"),
            # What the background has to do.
            models.Index(
                fields=["id"],
                condition=Q(state__in=["looking", "writing", "undoing"]),
                name="card_import_at_work",
            ),
        ]

    def __str__(self) -> str:
        return f"card import {self.pk}"

    def get_absolute_url(self) -> str:
        return reverse("card-import", args=[self.pk])

    @property
    def is_at_work(self) -> bool:
        return self.state in (self.State.LOOKING, self.State.WRITING, self.State.UNDOING)

    @property
    def fields(self) -> dict[str, int]:
        """Which column (counted from 0) holds each field."""
        return self.columns.get("fields", {})

    @property
    def options(self) -> dict[str, bool]:
        return self.columns.get("options", {})


class Question(models.Model):
    """Something in a file that a person has to decide, once for all rows that say it."""

    card_import = models.ForeignKey(
        CardImport, on_delete=models.CASCADE, related_name="questions"
    )
    field = models.CharField(max_length=40)
    folded = models.CharField(max_length=64)
    asked = models.CharField(max_length=250)
    options = models.JSONField(default=list)  # [answer, words]
    answer = models.CharField(max_length=40, blank=True)
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["card_import", "field", "folded"], name="card_question_once"
            ),
        ]

    def __str__(self) -> str:
        return self.asked

    @property
    def answer_words(self) -> str:
        return next((words for value, words in self.options if value == self.answer), "")


class CardRow(models.Model):
    """One row of a file: what it says, what will become of it, and what became of it."""

    class Fate(models.TextChoices):
        UNSEEN = "unseen", gettext_lazy("not looked at yet")
        NEW = "new", gettext_lazy("new")
        HERE = "here", gettext_lazy("already here")
        UNCLEAR = "unclear", gettext_lazy("unclear")
        WRONG = "wrong", gettext_lazy("wrong")
        LEFT = "left", gettext_lazy("left out")
        WRITTEN = "written", gettext_lazy("written")
        REFUSED = "refused", gettext_lazy("refused")
        UNDONE = "undone", gettext_lazy("undone")
        KEPT = "kept", gettext_lazy("could not be undone")

    card_import = models.ForeignKey(CardImport, on_delete=models.CASCADE, related_name="rows")
    number = models.PositiveIntegerField()
    cells = models.JSONField(default=list)
    fate = models.CharField(max_length=10, choices=Fate, default=Fate.UNSEEN)
    column = models.CharField(max_length=120, blank=True)
    said = models.TextField(blank=True)
    values = models.JSONField(default=dict)
    key = models.CharField(max_length=64, blank=True)
    reference = models.CharField(max_length=64, blank=True)
    question = models.ForeignKey(
        Question, null=True, on_delete=models.SET_NULL, related_name="rows"
    )
    made = models.JSONField(default=dict)

    objects = CardRowQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(
                fields=["card_import", "number"], name="card_row_once_in_its_file"
            ),
        ]
        indexes = [
            # What is still to do, in order.
            models.Index(fields=["card_import", "fate", "number"], name="card_row_by_fate"),
            # The same thing in another row, of this file or another.
            models.Index(fields=["key"], condition=~Q(key=""), name="card_row_key"),
            # A number of the old card box.
            models.Index(
                fields=["reference"], condition=~Q(reference=""), name="card_row_reference"
            ),
        ]

    def __str__(self) -> str:
        return f"row {self.number}"

    @property
    def sentence(self) -> str:
        """What is said of the row, beginning with where it stands."""
        if not self.said:
            return ""
        if not self.column:
            return _("Row %(n)s: %(said)s") % {"n": self.number, "said": self.said}
        return _("Row %(n)s, column “%(column)s”: %(said)s") % {
            "n": self.number,
            "column": self.column,
            "said": self.said,
        }


class Shape(models.Model):
    """How the columns of a file with these headings were understood, for the next such file."""

    kind = models.CharField(max_length=10, choices=Kind)
    fingerprint = models.CharField(max_length=64)
    columns = models.JSONField(default=dict)
    saved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    saved_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kind", "fingerprint"], name="card_shape_once"),
        ]

    def __str__(self) -> str:
        return f"shape {self.pk}"


class NotedPerson(models.Model):
    """Somebody whom the old card box names and who has no account: a name, to be asked.

    No account is made of it. Only administrators see it.
    """

    name = models.CharField(max_length=120)
    folded = models.CharField(max_length=200)
    email = models.EmailField(blank=True)
    note = models.TextField(blank=True, max_length=2000)
    noted_at = models.DateTimeField(default=timezone.now)
    noted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        ordering = ["folded", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["folded", "email"], name="noted_person_once"),
        ]

    def __str__(self) -> str:
        return self.name
