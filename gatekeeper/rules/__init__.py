"""Rules of a site: YAML in layers → effective rules whose every limit knows where it came from."""
