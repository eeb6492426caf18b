"""Swatches: how they come in, what each says of the others, and the tubs behind them."""
