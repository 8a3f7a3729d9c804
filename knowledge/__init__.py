"""The sizing and rules core: pure, with its data beside it."""
