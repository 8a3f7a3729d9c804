"""The web server: hooks, the sketch page, counts, the demo's two phones. It decides nothing."""
