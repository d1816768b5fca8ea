"""Every sentence and every number as people read it."""
