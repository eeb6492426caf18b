"""Colours taken out of a picture."""
