"""The pages, one module a kind: parse, ask the catalogue, show."""
