"""Swatch evenings: planned, worked out on a sheet, judged, and what came of them."""
