"""What is said to have been done, or undone, or to have happened."""
