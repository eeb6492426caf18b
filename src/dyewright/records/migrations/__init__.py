"""The history of the tables: one revision a file in `versions`, applied in order when a studio is opened."""
