"""What each purpose of a message is answered with: one a file; `base.found` walks this folder."""
