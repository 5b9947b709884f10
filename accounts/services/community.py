"""The library's own settings."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.current import let_go
from accounts.models import Community, Member
from accounts.roles import ADMINISTER
from accounts.services.checks import clean, frosts_agree, must_hold
from library.errors import Refused

FIELDS = frozenset(f.name for f in Community._meta.fields) - {"id", "identifier"}


@transaction.atomic
def save_community(*, by: Member | None, **fields) -> Community:
    """Save what is given; ``by`` is None for whoever runs the machine."""
    if by is not None:
        must_hold(by, ADMINISTER)
    if not fields.keys() <= FIELDS:
        wrong = sorted(fields.keys() - FIELDS)[0]
        raise Refused(_("“%(field)s” is not a setting.") % {"field": wrong}, field=wrong)
    Community.current()  # makes the row if it is missing
    community = Community.objects.select_for_update().get(pk=1)
    for field, value in fields.items():
        setattr(community, field, value.strip() if isinstance(value, str) else value)
    clean(community)
    frosts_agree(community)
    community.save()
    let_go()
    return community
