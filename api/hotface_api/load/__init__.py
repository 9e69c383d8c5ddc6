"""A data package into the store: whole, or not at all."""
