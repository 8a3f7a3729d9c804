"""The web server: hooks, the sketch page, counts. It decides nothing."""
