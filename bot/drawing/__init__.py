"""The trench drawn as SVG and PNG, and the signed links to it. It knows of no web and no database."""
