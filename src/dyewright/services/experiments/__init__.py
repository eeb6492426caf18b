"""Experiments: one factor varied in steps over sample skeins; planned, dyed, read, and what they taught."""
