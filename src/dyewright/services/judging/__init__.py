"""Skeins judged from photos."""
