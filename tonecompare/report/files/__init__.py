"""What is written: the report folder, its tables, clips and summary."""
