"""What is measured: lengths, ground, pressures, services."""
