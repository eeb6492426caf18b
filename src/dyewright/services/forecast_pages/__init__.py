"""The forecast as pages and commands show it: answers, charts, questions, the colour on the way."""
