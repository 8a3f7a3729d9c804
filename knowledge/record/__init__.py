"""What was told about a trench, and how it stands once that is told."""
