"""One page, or one family of pages, a file; each names its addresses in `routes`."""
