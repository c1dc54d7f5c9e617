"""The page in the browser: its server, its script and style."""
