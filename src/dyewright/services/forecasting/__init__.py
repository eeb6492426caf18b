"""The forecast of a dyeing: what the models take, the computing, the looks at the bath, the words, the pages."""
