"""Dyewright: the bench companion of an independent hand-dyer of yarn."""

__version__ = "0.1.0"
