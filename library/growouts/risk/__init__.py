"""What is at risk: each variety's chance of being lost, and what would help it most."""

from library.growouts.risk.reading import AtRisk, LotLeft, at_risk, chances_of_loss, situations

__all__ = ["AtRisk", "LotLeft", "at_risk", "chances_of_loss", "situations"]
