"""Matching sets for tests of what comes after them: complete linkage of the differences as they are."""

from scipy.cluster.hierarchy import fcluster, linkage

__all__ = ["sets_of"]


def sets_of(ids, pairs, limit):
    """Return the sets of skeins whose pairs all differ by the limit or less, the largest first."""
    if len(ids) < 2:
        return tuple((skein,) for skein in ids)
    labels = fcluster(linkage([pair.de00 for pair in pairs], "complete"), limit, "distance")
    groups = [tuple(skein for skein, own in zip(ids, labels, strict=True) if own == label) for label in set(labels)]
    return tuple(sorted(groups, key=lambda group: (-len(group), group)))
