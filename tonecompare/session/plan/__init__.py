"""What has to be recorded? The plan of a session, its ``session.toml`` and its take sheet."""
