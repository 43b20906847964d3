"""A whole job with no microphone and nobody there: the product's own path, with spoken lines."""
