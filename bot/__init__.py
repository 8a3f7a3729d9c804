"""The messaging shell: channels, reading, replies, log, office."""
