"""Where rows live: typed models, sessions, migrations and plain reads. Knows nothing of Flask."""
