"""The colour pages: a target, its recipes, the mix in hand, and what else is done with colours."""
