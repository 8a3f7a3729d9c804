"""The pages of the office: what was asked and answered, which trenches are open, what stands in the way."""
