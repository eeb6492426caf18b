"""Image files to linear-light arrays; chart finding."""
