"""What pots teach: the lesson of one, and what all lessons together say before the next."""

from dyewright.core.learning.lesson import WatchedPot, lesson
from dyewright.core.learning.pooling import learnt, prior_variance

__all__ = ["WatchedPot", "learnt", "lesson", "prior_variance"]
