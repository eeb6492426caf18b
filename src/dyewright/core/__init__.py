"""Pure computing: no files, clock, network, database, globals or hidden randomness."""
