"""Whose turn it is at a test: its row orders all that is done to it."""

from __future__ import annotations

from django.utils.translation import gettext as _

from library.errors import Conflict
from library.germination.models import GerminationTest

State = GerminationTest.State


def lock(test: GerminationTest) -> None:
    """Lock the test's row until the transaction ends, and bring the instance up to date."""
    test.refresh_from_db(from_queryset=GerminationTest.objects.select_for_update(no_key=True))


def held(test: GerminationTest, state: State) -> None:
    """Lock the test's row, and refuse it when it is in any other state."""
    lock(test)
    if test.state != state:
        raise Conflict(
            _("Test %(number)s is %(state)s, not %(wanted)s.")
            % {"number": test.pk, "state": test.get_state_display(), "wanted": state.label}
        )
