"""The trench drawn as SVG and PNG, links to it, photographs made anew. It knows of no web and no database."""
