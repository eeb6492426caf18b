"""Text and file formats: cards, swatch tables, spectra, archives."""
