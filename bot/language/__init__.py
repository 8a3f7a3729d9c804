"""Languages: the words crews use, what the service says, units as a sender writes them."""
