"""What stands in the way of entry: hazards, inspections, what falls due, the next step."""
