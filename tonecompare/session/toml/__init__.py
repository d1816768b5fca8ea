"""What does ``session.toml`` say? Read it, check it, name every fault at once."""
