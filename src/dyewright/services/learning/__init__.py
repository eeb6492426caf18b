"""What pots teach: the lesson of a run, what it means for the next, and how pages tell it."""
