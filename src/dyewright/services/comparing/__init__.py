"""Two ways of dyeing beside each other: figures, the better one in words, variations of a card, the page."""

from dyewright.services.comparing.compare import TwoWays, beside

__all__ = ["TwoWays", "beside"]
