"""One message in, one Turn out: which trench is meant, what is answered, in which words. It does no I/O."""
