"""What grow-outs add to the pages of the apps below."""

from __future__ import annotations

from library.growouts.pictures import panel as pictures
from library.growouts.plans import panel as plans
from library.growouts.views import risk
from library.growouts.views.commitments import panel as commitments
from library.growouts.views.seasons import panel as seasons


def register() -> None:
    """Each part registers its own panels here."""
    seasons.register()
    plans.register()
    commitments.register()
    risk.register_panels()
    pictures.register()
