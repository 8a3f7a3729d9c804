"""What each purpose of a message is answered with."""
