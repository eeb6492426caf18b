"""Shipped tables with their provenance; each load_*() gives frozen types of core.model."""
