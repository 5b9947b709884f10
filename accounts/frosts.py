"""When it freezes at a place: what a garden and the community say about it alike."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from accounts.validators import month_day
from library.science.seasons import GardenSeason, MonthDay

FROST_FIELDS = ("last_spring_frost", "first_autumn_frost", "never_freezes")


class FrostDates(models.Model):
    """Both frost dates, or that it never freezes; neither where nobody said."""

    last_spring_frost = models.CharField(
        _("last spring frost"),
        max_length=5,
        blank=True,
        validators=[month_day],
        help_text=_("Month and day, as 05-10. Leave empty if you do not know."),
    )
    first_autumn_frost = models.CharField(
        _("first autumn frost"),
        max_length=5,
        blank=True,
        validators=[month_day],
        help_text=_("Month and day, as 10-05. Leave empty if you do not know."),
    )
    never_freezes = models.BooleanField(_("it never freezes here"), default=False)

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                condition=Q(last_spring_frost="", first_autumn_frost="")
                | Q(
                    ~Q(last_spring_frost=""),
                    ~Q(first_autumn_frost=""),
                    ~Q(last_spring_frost=F("first_autumn_frost")),
                    never_freezes=False,
                ),
                name="%(class)s_frosts_agree",
            ),
        ]

    @property
    def season(self) -> GardenSeason | None:
        """The growing season here; None where nobody said when the frosts are."""
        return GardenSeason.known(
            last_spring_frost=_month_day(self.last_spring_frost),
            first_autumn_frost=_month_day(self.first_autumn_frost),
            frost_free=self.never_freezes,
        )

    def clean_frosts(self) -> None:
        """Raise ValidationError, by field, where what is said of the frosts cannot be."""
        last, first = self.last_spring_frost, self.first_autumn_frost
        if self.never_freezes and (last or first):
            raise ValidationError(
                {"never_freezes": _("Either it never freezes, or there are frost dates.")}
            )
        if bool(last) != bool(first):
            missing = "first_autumn_frost" if last else "last_spring_frost"
            raise ValidationError(
                {missing: _("Give both frost dates, or leave both empty if you do not know.")}
            )
        if last and last == first:
            raise ValidationError(
                {
                    "first_autumn_frost": _(
                        "The last and the first frost cannot be on one day. If it never "
                        "freezes, leave both empty and say so."
                    )
                }
            )


def _month_day(text: str) -> MonthDay | None:
    return MonthDay.parse(text) if text else None
